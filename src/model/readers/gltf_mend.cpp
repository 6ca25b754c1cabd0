// Sections in comments are those of the glTF 2.0 specification.

#include "model/readers/gltf_mend.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cstdint>
#include <map>
#include <nlohmann/json.hpp>
#include <span>
#include <string_view>
#include <system_error>

#include "error.hpp"
#include "model/readers/gltf_document.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

using nlohmann::json;

// ---- Extensions that a file requires ----

/// Whether an extension can be left alone: it is of colours, lights and notes, or is read.
bool is_harmless(std::string_view name) {
    constexpr std::array<std::string_view, 6> of_looks{"_materials_", "_texture_",  "_lights_",
                                                       "_xmp",        "_technique", "_audio"};
    constexpr std::array<std::string_view, 3> read{
        "KHR_draco_mesh_compression", "KHR_mesh_quantization", "EXT_mesh_gpu_instancing"};
    return std::find(read.begin(), read.end(), name) != read.end() ||
           std::any_of(of_looks.begin(), of_looks.end(),
                       [&](std::string_view part) { return name.find(part) != name.npos; });
}

void check_required(const json& tree) {
    const auto required = tree.find("extensionsRequired");
    if (required == tree.end() || !required->is_array()) return;
    for (const json& name : *required) {
        if (!name.is_string() || is_harmless(name.get_ref<const std::string&>())) continue;
        throw Error(ExitCode::bad_model,
                    "it requires the glTF extension " + name.dump(-1, ' ', true) +
                        ", which is not known here; expected a file that does without; export the "
                        "model without that extension (compression, for example, switched off)");
    }
}

// ---- Parts of the tree ----

/// A member that is a list; empty where there is none.
std::span<json> list_of(json& object, const char* member) {
    if (!object.is_object()) return {};
    const auto found = object.find(member);
    if (found == object.end() || !found->is_array()) return {};
    return found->get_ref<json::array_t&>();
}

const json* extension_of(const json& object, const char* name) {
    const auto extensions = object.find("extensions");
    if (extensions == object.end() || !extensions->is_object()) return nullptr;
    const auto found = extensions->find(name);
    return found == extensions->end() || !found->is_object() ? nullptr : &*found;
}

bool give_sources(json& tree) {
    bool changed = false;
    for (json& texture : list_of(tree, "textures")) {
        if (!texture.is_object() || texture.contains("source")) continue;
        for (const char* name : {"EXT_texture_webp", "MSFT_texture_dds", "KHR_texture_basisu"}) {
            const json* extension = extension_of(texture, name);
            if (extension == nullptr || !extension->contains("source")) continue;
            if (!extension->at("source").is_number_unsigned()) continue;
            const json source = extension->at("source");
            texture["source"] = source;
            changed = true;
            break;
        }
    }
    return changed;
}

bool choose_set(json& object, const char* member) {
    const auto info = object.find(member);
    if (info == object.end() || !info->is_object()) return false;
    const json* transform = extension_of(*info, "KHR_texture_transform");
    if (transform == nullptr || !transform->contains("texCoord")) return false;
    const json set = transform->at("texCoord");
    (*info)["texCoord"] = set;
    return true;
}

bool choose_sets(json& tree) {
    bool changed = false;
    for (json& material : list_of(tree, "materials")) {
        if (!material.is_object()) continue;
        changed = choose_set(material, "normalTexture") || changed;
        const auto colours = material.find("pbrMetallicRoughness");
        if (colours != material.end() && colours->is_object())
            changed = choose_set(*colours, "baseColorTexture") || changed;
    }
    return changed;
}

// ---- Numbers anew ----

std::string to_base64(std::string_view bytes) {  // RFC 4648, section 4
    constexpr std::string_view digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t three = 0;
        for (std::size_t k = 0; k < 3; ++k)
            three =
                three << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
        const std::size_t used = std::min<std::size_t>(3, bytes.size() - i);
        for (std::size_t k = 0; k < 4; ++k)
            text += k <= used ? digits[three >> (18 - 6 * k) & 63] : '=';
    }
    return text;
}

std::size_t components_of(const json& accessor) {
    const std::string type = accessor.at("type");
    for (const auto& [name, count] :
         {std::pair{"SCALAR", 1}, {"VEC2", 2}, {"VEC3", 3}, {"VEC4", 4}})
        if (type == name) return static_cast<std::size_t>(count);
    return 0;
}

/// Adds accessors to a file, with a buffer of their own.
class Adder {
public:
    explicit Adder(GltfDocument& document) : document_(document), tree_(document.tree()) {}

    /// The number of an accessor with the same numbers as floats; nothing where they are floats
    /// already, or cannot be read.
    std::optional<std::size_t> as_floats(std::size_t number) {
        const auto known = floats_.find(number);
        if (known != floats_.end()) return known->second;
        const json& accessor = tree_.at("accessors").at(number);
        constexpr std::size_t type_of_floats = 5126;
        if (whole_member(accessor, "componentType", type_of_floats) == type_of_floats)
            return std::nullopt;
        const std::size_t components = components_of(accessor);
        if (components == 0) return std::nullopt;
        const auto numbers = document_.numbers(number, components);
        if (!numbers) return std::nullopt;
        return floats_[number] = add(*numbers, accessor);
    }

    std::size_t add_identities(std::size_t count) {
        std::vector<double> numbers(16 * count, 0.0);
        for (std::size_t i = 0; i < numbers.size(); i += i % 16 == 15 ? 1 : 5) numbers[i] = 1.0;
        return add(numbers, {{"count", count}, {"type", "MAT4"}});
    }

    /// Puts the buffer into the file. Whether there is something in it.
    bool end() {
        if (bytes_.empty()) return false;
        tree_["buffers"].push_back(
            {{"byteLength", bytes_.size()},
             {"uri", "data:application/octet-stream;base64," + to_base64(bytes_)}});
        return true;
    }

private:
    std::size_t add(const std::vector<double>& numbers, json accessor) {
        const std::size_t first = bytes_.size();
        for (const double number : numbers) {
            const auto bits = std::bit_cast<std::uint32_t>(static_cast<float>(number));
            for (int k = 0; k < 4; ++k) bytes_ += static_cast<char>(bits >> 8 * k & 255);
        }
        json& views = tree_["bufferViews"];
        views.push_back({{"buffer", list_of(tree_, "buffers").size()},
                         {"byteOffset", first},
                         {"byteLength", bytes_.size() - first}});
        for (const char* member : {"normalized", "byteOffset", "min", "max"})
            accessor.erase(member);
        accessor["bufferView"] = views.size() - 1;
        accessor["componentType"] = 5126;
        json& accessors = tree_["accessors"];
        accessors.push_back(std::move(accessor));
        return accessors.size() - 1;
    }

    GltfDocument& document_;
    json& tree_;
    std::string bytes_;
    std::map<std::size_t, std::size_t> floats_;
};

void make_floats(json& attributes, Adder& adder) {
    if (!attributes.is_object()) return;
    for (auto& [name, accessor] : attributes.items()) {
        const bool is_read = name == "POSITION" || name == "NORMAL" || name == "TANGENT" ||
                             name.starts_with("TEXCOORD_") || name.starts_with("WEIGHTS_");
        if (!is_read) continue;
        if (const auto floats = adder.as_floats(whole_number(accessor))) accessor = *floats;
    }
}

void make_floats_of_meshes(json& tree, Adder& adder) {
    for (json& mesh : list_of(tree, "meshes")) {
        for (json& primitive : list_of(mesh, "primitives")) {
            if (!primitive.is_object()) continue;
            if (primitive.contains("attributes")) make_floats(primitive["attributes"], adder);
            for (json& target : list_of(primitive, "targets")) make_floats(target, adder);
        }
    }
}

void give_matrices(json& tree, Adder& adder) {
    for (json& skin : list_of(tree, "skins"))
        if (skin.is_object() && !skin.contains("inverseBindMatrices"))
            skin["inverseBindMatrices"] = adder.add_identities(list_of(skin, "joints").size());
}

// ---- Places ----

/// One of the lists of EXT_mesh_gpu_instancing; empty where it has none.
std::vector<double> list_of_places(GltfDocument& document, const json& attributes, const char* name,
                                   std::size_t components) {
    const auto accessor = attributes.find(name);
    if (accessor == attributes.end()) return {};
    return document.numbers(whole_number(*accessor), components).value_or(std::vector<double>());
}

/// Children of the node, one for each place, in place of its own mesh.
bool place_copies(GltfDocument& document, std::size_t number) {
    json& nodes = document.tree()["nodes"];
    const json* extension = extension_of(nodes.at(number), "EXT_mesh_gpu_instancing");
    if (extension == nullptr || !nodes[number].contains("mesh")) return false;
    const json attributes = extension->value("attributes", json::object());
    const auto shifts = list_of_places(document, attributes, "TRANSLATION", 3);
    const auto turns = list_of_places(document, attributes, "ROTATION", 4);
    const auto scales = list_of_places(document, attributes, "SCALE", 3);
    const std::size_t count = std::max({shifts.size() / 3, turns.size() / 4, scales.size() / 3});
    constexpr std::size_t most_places = 1'000'000;  // as in a 3MF
    if (count == 0 || count > most_places) return false;
    const auto give = [](json& node, const char* member, const std::vector<double>& all,
                         std::size_t size, std::size_t i) {
        if (size * (i + 1) > all.size()) return;
        node[member] =
            std::vector<double>(all.begin() + static_cast<std::ptrdiff_t>(size * i),
                                all.begin() + static_cast<std::ptrdiff_t>(size * (i + 1)));
    };
    json shown = json::object();
    for (const char* member : {"mesh", "name"})
        if (nodes[number].contains(member)) shown[member] = nodes[number][member];
    nodes[number].erase("mesh");
    if (!nodes[number].contains("children")) nodes[number]["children"] = json::array();
    for (std::size_t i = 0; i < count; ++i) {
        json node = shown;
        give(node, "translation", shifts, 3, i);
        give(node, "rotation", turns, 4, i);
        give(node, "scale", scales, 3, i);
        nodes[number]["children"].push_back(nodes.size());
        nodes.push_back(std::move(node));
    }
    return true;
}

bool place_copies(GltfDocument& document) {
    bool changed = false;
    const std::size_t count = list_of(document.tree(), "nodes").size();
    for (std::size_t i = 0; i < count; ++i) changed = place_copies(document, i) || changed;
    return changed;
}

// ---- The file ----

bool decode_names(json& tree, const std::filesystem::path& folder, RecordingIo& io) {
    bool changed = false;
    for (json& buffer : list_of(tree, "buffers")) {
        if (!buffer.is_object() || !buffer.contains("uri") || !buffer["uri"].is_string()) continue;
        const std::string& uri = buffer["uri"].get_ref<const std::string&>();
        if (uri.starts_with("data:") || uri.find('%') == uri.npos) continue;
        if (io.Exists((folder / uri).c_str())) continue;
        buffer["uri"] = without_escapes(uri);
        changed = true;
    }
    return changed;
}

std::string number_text(std::size_t number) {
    std::string bytes;
    for (int k = 0; k < 4; ++k) bytes += static_cast<char>(number >> 8 * k & 255);
    return bytes;
}

/// 4.4: as the file was, text or binary.
std::string file_of(const GltfDocument& document) {
    std::string text = document.tree().dump(-1, ' ', false, json::error_handler_t::replace);
    if (!document.is_binary()) return text;
    text.append((4 - text.size() % 4) % 4, ' ');
    std::string rest;
    if (!document.binary().empty())
        rest = number_text(document.binary().size()) + std::string("BIN\0", 4) +
               std::string(document.binary());
    constexpr std::size_t header = 12, chunk_header = 8;
    return "glTF" + number_text(2) +
           number_text(header + chunk_header + text.size() + rest.size()) +
           number_text(text.size()) + "JSON" + text + rest;
}

bool is_gltf_2(const json& tree) {
    const auto asset = tree.find("asset");
    if (asset == tree.end() || !asset->is_object()) return false;
    const auto version = asset->find("version");
    return version != asset->end() && version->is_string() &&
           version->get_ref<const std::string&>().starts_with("2");
}

}  // namespace

std::optional<std::string> mended_gltf(const std::filesystem::path& file, RecordingIo& io) {
    try {
        GltfDocument document(file, io);
        json& tree = document.tree();
        if (!tree.is_object() || !is_gltf_2(tree)) return std::nullopt;
        check_required(tree);
        bool changed = document.has_mark();
        changed = give_sources(tree) || changed;
        changed = choose_sets(tree) || changed;
        changed = decode_names(tree, file.parent_path(), io) || changed;
        changed = place_copies(document) || changed;
        Adder adder(document);
        make_floats_of_meshes(tree, adder);
        give_matrices(tree, adder);
        changed = adder.end() || changed;
        return changed ? std::optional(file_of(document)) : std::nullopt;
    } catch (const json::exception&) {
    } catch (const std::out_of_range&) {
    } catch (const std::system_error&) {
    }
    return std::nullopt;
}

}  // namespace rakelight
