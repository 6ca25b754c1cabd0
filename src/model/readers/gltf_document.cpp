#include "model/readers/gltf_document.hpp"
#include "model/readers/text_scan.hpp"

#include <array>
#include <assimp/IOStream.hpp>
#include <cmath>
#include <cstring>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "printable.hpp"

namespace rakelight {
namespace {

using nlohmann::json;

std::uint32_t number_at(std::string_view bytes, std::size_t offset) {
    std::uint32_t number = 0;
    for (std::size_t k = 4; k-- > 0;)
        number = number << 8 | static_cast<unsigned char>(bytes.at(offset + k));
    return number;
}

/// The chunks of a .glb file: glTF 2.0 specification, 4.4.
struct Chunks {
    std::string_view json, binary;
};

Chunks chunks_of(std::string_view file) {
    constexpr std::size_t header = 12, chunk_header = 8;
    if (!file.starts_with("glTF") || file.size() < header + chunk_header) return {file, {}};
    const std::size_t length = number_at(file, header);
    const std::size_t first = header + chunk_header;
    Chunks chunks{file.substr(first, length), {}};
    const std::size_t second = first + chunks.json.size() + chunk_header;
    if (second <= file.size())
        chunks.binary = file.substr(second, number_at(file, second - chunk_header));
    return chunks;
}

/// RFC 4648, section 4. What is no digit ends the text.
std::string from_base64(std::string_view text) {
    constexpr std::string_view digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string bytes;
    std::uint32_t bits = 0;
    int count = 0;
    for (const char c : text) {
        const std::size_t digit = digits.find(c);
        if (digit == std::string_view::npos) break;
        bits = bits << 6 | static_cast<std::uint32_t>(digit);
        if ((count += 6) < 8) continue;
        count -= 8;
        bytes += static_cast<char>(bits >> count & 255);
    }
    return bytes;
}

/// What a URI holds itself (RFC 2397), still packed; nothing when it names a file.
std::optional<std::string_view> data_of(std::string_view uri) {
    const std::size_t comma = uri.find(',');
    if (!uri.starts_with("data:") || comma == uri.npos) return std::nullopt;
    return uri.substr(comma + 1);
}

std::string read_beside(const std::filesystem::path& path, RecordingIo& io, std::size_t offset = 0,
                        std::size_t most = std::string::npos) {
    Assimp::IOStream* stream = io.Open(path.c_str(), "rb");
    if (stream == nullptr) return {};
    const std::size_t size = stream->FileSize();
    std::string bytes(std::min(most, size - std::min(size, offset)), '\0');
    stream->Seek(std::min(size, offset), aiOrigin_SET);
    bytes.resize(stream->Read(bytes.data(), 1, bytes.size()));
    io.Close(stream);
    return bytes;
}

/// How an accessor's numbers are stored: 3.6.2.2 and 3.11.
struct Component {
    std::size_t bytes;
    bool is_signed;
    double one;  ///< the whole number that stands for 1; 0: they are floats
};

std::optional<Component> component_of(std::size_t type) {
    switch (type) {
        case 5120:
            return Component{1, true, 127.0};
        case 5121:
            return Component{1, false, 255.0};
        case 5122:
            return Component{2, true, 32767.0};
        case 5123:
            return Component{2, false, 65535.0};
        case 5126:
            return Component{4, true, 0.0};
        default:
            return std::nullopt;
    }
}

double number_of(const char* bytes, const Component& component, bool normalized) {
    if (component.one == 0.0) {
        float value = 0.0f;
        std::memcpy(&value, bytes, sizeof value);
        return value;
    }
    std::int32_t whole = static_cast<unsigned char>(bytes[0]);
    if (component.bytes == 2) whole |= static_cast<unsigned char>(bytes[1]) << 8;
    const std::int32_t range = 1 << (8 * component.bytes);
    if (component.is_signed && whole >= range / 2) whole -= range;
    return normalized ? std::max(whole / component.one, -1.0) : whole;
}

}  // namespace

std::size_t whole_number(const json& number) {
    if (number.is_number_unsigned()) return number.get<std::size_t>();
    constexpr double exact = 9007199254740992.0;  // 2^53, up to which doubles have all of them
    const double value = number.is_number_float() ? number.get<double>() : -1.0;
    if (!(value >= 0.0 && value <= exact) || value != std::floor(value))
        throw std::out_of_range("no whole number");
    return static_cast<std::size_t>(value);
}

std::size_t whole_member(const json& object, const char* member, std::size_t otherwise) {
    const auto found = object.find(member);
    return found == object.end() ? otherwise : whole_number(*found);
}

std::vector<std::size_t> whole_members(const json& object, const char* member) {
    std::vector<std::size_t> numbers;
    if (const auto found = object.find(member); found != object.end())
        for (const json& number : *found) numbers.push_back(whole_number(number));
    return numbers;
}

GltfDocument::GltfDocument(const std::filesystem::path& file, RecordingIo& io)
    : folder_(file.parent_path()), io_(io), mapped_(file) {
    if (const std::string* text = io.text_in_place(file)) in_place_ = *text;
    const std::string_view bytes = in_place_.empty() ? mapped_.bytes() : in_place_;
    const Chunks chunks = chunks_of(bytes);
    binary_ = chunks.binary;
    is_binary_ = bytes.starts_with("glTF");
    has_mark_ = chunks.json.starts_with("\xEF\xBB\xBF");
    json_size_ = chunks.json.size();
    tree_ = std::make_unique<json>(json::parse(chunks.json, nullptr, false));
    // Names of a maker who does not know of UTF-8 need not stop anybody from reading the rest.
    if (tree_->is_discarded()) *tree_ = json::parse(valid_utf8(chunks.json));
}

GltfDocument::~GltfDocument() = default;

std::string_view GltfDocument::buffer(std::size_t index) {
    const json& buffer = tree_->at("buffers").at(index);
    if (!buffer.contains("uri")) return index == 0 ? binary_ : std::string_view();
    const auto [at, is_new] = buffers_.try_emplace(index);
    if (is_new) {
        const std::string& uri = buffer.at("uri").get_ref<const std::string&>();
        const auto packed = data_of(uri);
        at->second =
            packed ? from_base64(*packed) : read_beside(folder_ / without_escapes(uri), io_);
    }
    return at->second;
}

std::uint64_t GltfDocument::buffer_size(const json& buffer) {
    if (!buffer.contains("uri")) return binary_.size();
    const std::string& uri = buffer.at("uri").get_ref<const std::string&>();
    if (const auto packed = data_of(uri)) return packed->size() / 4 * 3;
    Assimp::IOStream* stream = io_.Open((folder_ / without_escapes(uri)).c_str(), "rb");
    if (stream == nullptr) return 0;
    const std::uint64_t size = stream->FileSize();
    io_.Close(stream);
    return size;
}

std::string GltfDocument::image_start(std::size_t index, std::size_t most) {
    const json& image = tree_->at("images").at(index);
    if (const auto stated = image.find("uri"); stated != image.end()) {
        const std::string& uri = stated->get_ref<const std::string&>();
        if (const auto packed = data_of(uri)) return from_base64(packed->substr(0, most));
        return io_.start_of(folder_ / without_escapes(uri), most);
    }
    const json& view = tree_->at("bufferViews").at(whole_number(image.at("bufferView")));
    const json& buffer = tree_->at("buffers").at(whole_number(view.at("buffer")));
    const std::size_t offset = whole_member(view, "byteOffset", 0);
    const std::size_t size = std::min(most, whole_number(view.at("byteLength")));
    if (!buffer.contains("uri"))
        return offset > binary_.size() ? std::string() : std::string(binary_.substr(offset, size));
    const std::string& uri = buffer.at("uri").get_ref<const std::string&>();
    if (const auto packed = data_of(uri)) {
        if (offset / 3 * 4 > packed->size()) return {};
        const std::size_t extra = offset % 3;
        const std::string bytes =
            from_base64(packed->substr(offset / 3 * 4, (size + extra) / 3 * 4 + 4));
        return bytes.substr(std::min(extra, bytes.size()), size);
    }
    return read_beside(folder_ / without_escapes(uri), io_, offset, size);
}

/// From the accessor's first element to its last; empty when that leads out of the buffer.
std::string_view GltfDocument::view_of(const json& accessor, std::size_t element_bytes,
                                       std::size_t& stride) {
    const json& view = tree_->at("bufferViews").at(whole_number(accessor.at("bufferView")));
    const std::size_t count = whole_number(accessor.at("count"));
    stride = whole_member(view, "byteStride", element_bytes);
    const std::string_view all = buffer(whole_number(view.at("buffer")));
    const std::size_t view_offset = whole_member(view, "byteOffset", 0);
    if (view_offset > all.size()) return {};
    const std::string_view bytes = all.substr(view_offset, whole_number(view.at("byteLength")));
    const std::size_t offset = whole_member(accessor, "byteOffset", 0);
    if (count == 0 || stride < element_bytes || offset > bytes.size() ||
        bytes.size() - offset < element_bytes ||
        (bytes.size() - offset - element_bytes) / stride < count - 1)
        return {};
    return bytes.substr(offset);
}

std::optional<std::vector<double>> GltfDocument::numbers(std::size_t index,
                                                         std::size_t components) {
    const json& accessor = tree_->at("accessors").at(index);
    const auto component = component_of(whole_number(accessor.at("componentType")));
    if (!component || accessor.contains("sparse") || !accessor.contains("bufferView"))
        return std::nullopt;
    std::size_t stride = 0;
    const std::string_view bytes = view_of(accessor, components * component->bytes, stride);
    if (bytes.empty()) return std::nullopt;
    const std::size_t count = whole_number(accessor.at("count"));
    const bool normalized = accessor.value("normalized", false);
    std::vector<double> numbers;
    numbers.reserve(count * components);
    for (std::size_t i = 0; i < count; ++i)
        for (std::size_t k = 0; k < components; ++k)
            numbers.push_back(number_of(bytes.data() + i * stride + k * component->bytes,
                                        *component, normalized));
    return numbers;
}

}  // namespace rakelight
