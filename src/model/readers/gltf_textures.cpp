#include "model/readers/gltf_textures.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <nlohmann/json.hpp>

namespace rakelight {
namespace {

using nlohmann::json;

constexpr std::size_t header = 12, chunk_header = 8;  // glTF 2.0 specification, 4.4
constexpr std::array<const char*, 3> extensions{"EXT_texture_webp", "MSFT_texture_dds",
                                                "KHR_texture_basisu"};

bool is_binary(std::string_view file) {
    return file.starts_with("glTF") && file.size() >= header + chunk_header;
}

std::uint32_t number_at(std::string_view bytes, std::size_t offset) {
    std::uint32_t number = 0;
    for (std::size_t k = 4; k-- > 0;)
        number = number << 8 | static_cast<unsigned char>(bytes[offset + k]);
    return number;
}

std::string number_text(std::size_t number) {
    std::string bytes;
    for (int k = 0; k < 4; ++k) bytes += static_cast<char>(number >> 8 * k & 255);
    return bytes;
}

/// Whether one of them was given a source.
bool complete(json& tree) {
    const auto textures = tree.find("textures");
    if (textures == tree.end() || !textures->is_array()) return false;
    bool changed = false;
    for (json& texture : *textures) {
        if (!texture.is_object() || texture.contains("source")) continue;
        const auto known = texture.find("extensions");
        if (known == texture.end() || !known->is_object()) continue;
        for (const char* name : extensions) {
            const auto extension = known->find(name);
            if (extension == known->end() || !extension->is_object()) continue;
            const auto source = extension->find("source");
            if (source == extension->end() || !source->is_number_unsigned()) continue;
            texture["source"] = *source;
            changed = true;
            break;
        }
    }
    return changed;
}

}  // namespace

std::size_t gltf_json_end(std::string_view start) {
    if (!is_binary(start)) return std::string_view::npos;
    return header + chunk_header + std::size_t{number_at(start, header)};
}

bool may_lack_texture_sources(std::string_view text) {
    return std::any_of(extensions.begin(), extensions.end(),
                       [&](const char* name) { return text.find(name) != text.npos; });
}

std::optional<std::string> with_texture_sources(const std::string& file) {
    const bool binary = is_binary(file);
    const std::size_t first = binary ? header + chunk_header : 0;
    const std::size_t end = std::min(file.size(), gltf_json_end(file));
    const std::string_view text = std::string_view(file).substr(first, end - first);
    json tree = json::parse(text, nullptr, false);
    if (!tree.is_object() || !complete(tree)) return std::nullopt;
    std::string changed = tree.dump(-1, ' ', false, json::error_handler_t::replace);
    if (!binary) return changed;
    changed.append((4 - changed.size() % 4) % 4, ' ');
    const std::string_view rest = std::string_view(file).substr(end);
    return file.substr(0, 8) + number_text(header + chunk_header + changed.size() + rest.size()) +
           number_text(changed.size()) + file.substr(16, 4) + changed + std::string(rest);
}

}  // namespace rakelight
