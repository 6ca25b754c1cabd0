// Sections in comments are those of the glTF 2.0 specification.

#include "model/readers/gltf_contents.hpp"

#include <algorithm>
#include <glm/gtc/quaternion.hpp>
#include <map>
#include <nlohmann/json.hpp>
#include <system_error>
#include <vector>

#include "model/copies.hpp"
#include "model/pictures/image_file.hpp"
#include "model/readers/gltf_document.hpp"

namespace rakelight {
namespace {

using nlohmann::json;

const json& list_of(const json& object, const char* member) {
    static const json none = json::array();
    const auto found = object.find(member);
    return found == object.end() ? none : *found;
}

const json& accessor_at(const json& file, const json& number) {
    return file.at("accessors").at(whole_number(number));
}

/// How many elements an accessor has, which an index of 32 bits counts (3.7.2.1).
std::uint64_t count_of(const json& accessor) {
    const std::uint64_t count = whole_number(accessor.at("count"));
    if (count > 0xFFFFFFFF) throw std::out_of_range("more than can be counted");
    return count;
}

SurfaceSize size_of(const json& file, const json& primitive) {
    const json& positions = accessor_at(file, primitive.at("attributes").at("POSITION"));
    SurfaceSize size{count_of(positions), 0};
    const auto indices = primitive.find("indices");
    const std::uint64_t corners =
        indices == primitive.end() ? size.vertices : count_of(accessor_at(file, *indices));
    const std::size_t mode = whole_member(primitive, "mode", 4);  // 5.24.4
    if (mode == 4) size.triangles = corners / 3;
    if (mode == 5 || mode == 6) size.triangles = corners - std::min<std::uint64_t>(corners, 2);
    return size;
}

/// 5.25: a matrix of 16 numbers column by column, or what is applied in the order of scale,
/// rotation, translation.
glm::dmat4 matrix_of(const json& node) {
    glm::dmat4 matrix(1.0);
    if (const auto stated = node.find("matrix"); stated != node.end()) {
        for (int i = 0; i < 16; ++i)
            matrix[i / 4][i % 4] = stated->at(static_cast<std::size_t>(i)).get<double>();
        return matrix;
    }
    const auto numbers = [&](const char* member, std::vector<double> otherwise) {
        const auto found = node.find(member);
        if (found == node.end()) return otherwise;
        auto given = found->get<std::vector<double>>();
        given.resize(otherwise.size());
        return given;
    };
    const auto shift = numbers("translation", {0, 0, 0}), scale = numbers("scale", {1, 1, 1});
    const auto turn = numbers("rotation", {0, 0, 0, 1});  // w last
    matrix = glm::mat4_cast(glm::dquat(turn[3], turn[0], turn[1], turn[2]));
    for (int k = 0; k < 3; ++k) matrix[k] *= scale[static_cast<std::size_t>(k)];
    matrix[3] = glm::dvec4(shift[0], shift[1], shift[2], 1.0);
    return matrix;
}

/// 3.6.2.5: positions state their bounds.
Bounds bounds_of(const json& file, const json& primitive) {
    const json& positions = accessor_at(file, primitive.at("attributes").at("POSITION"));
    const auto low = positions.at("min").get<std::vector<double>>();
    const auto high = positions.at("max").get<std::vector<double>>();
    return {{low.at(0), low.at(1), low.at(2)}, {high.at(0), high.at(1), high.at(2)}};
}

/// Adds up what the nodes of a scene show.
class Places {
public:
    explicit Places(const json& file) : file_(file), nodes_(list_of(file, "nodes")) {}

    SurfaceSize stored() {
        const json& scene = file_.at("scenes").at(whole_member(file_, "scene", 0));
        std::vector<std::pair<std::size_t, glm::dmat4>> open;  // the next one is the last
        const auto add_below = [&](const json& parent, const char* member, const glm::dmat4& at) {
            const auto numbers = whole_members(parent, member);
            for (auto i = numbers.rbegin(); i != numbers.rend(); ++i) open.emplace_back(*i, at);
        };
        add_below(scene, "nodes", glm::dmat4(1.0));
        std::vector<bool> seen(nodes_.size());
        while (!open.empty()) {
            const auto [number, parent] = open.back();
            open.pop_back();
            if (seen.at(number)) throw std::out_of_range("no tree");  // 3.5.2
            seen[number] = true;
            const json& node = nodes_.at(number);
            const glm::dmat4 model_from_node = parent * matrix_of(node);
            if (node.contains("mesh")) add(node, model_from_node);
            add_below(node, "children", model_from_node);
        }
        return stored_;
    }

private:
    void add(const json& node, const glm::dmat4& place) {
        const json& mesh = file_.at("meshes").at(whole_number(node.at("mesh")));
        for (const json& primitive : mesh.at("primitives")) {
            const bool moves = node.contains("skin") || primitive.contains("targets");
            if (!moves && is_copy(primitive, place)) continue;
            const SurfaceSize size = size_of(file_, primitive);
            stored_.vertices += size.vertices;
            stored_.triangles += size.triangles;
        }
    }

    bool is_copy(const json& primitive, const glm::dmat4& place) {
        if (finder_.is_doubled(&primitive, place)) return true;
        if (finder_.find(&primitive, place, CopySizes::alike)) return true;
        finder_.store(
            &primitive, place, 0,
            placed_box(bounds_of(file_, primitive), glm::dmat3(place), glm::dvec3(place[3])));
        return false;
    }

    const json& file_;
    const json& nodes_;
    CopyFinder finder_;
    SurfaceSize stored_;
};

SurfaceSize size_of_meshes(const json& file) {
    SurfaceSize all;
    for (const json& mesh : list_of(file, "meshes")) {
        for (const json& primitive : mesh.at("primitives")) {
            const SurfaceSize size = size_of(file, primitive);
            all.vertices += size.vertices * (1 + list_of(primitive, "targets").size());
            all.triangles += size.triangles;
        }
    }
    return all;
}

std::uint64_t size_of_buffers(const json& file) {
    std::uint64_t bytes = 0;
    for (const json& buffer : list_of(file, "buffers"))
        bytes += whole_member(buffer, "byteLength", 0);
    return bytes;
}

/// The textures that import_textures reads, as often as a material has them.
std::vector<std::size_t> detail_textures(const json& file) {
    std::vector<std::size_t> textures;
    for (const json& material : list_of(file, "materials")) {
        if (const auto normal = material.find("normalTexture"); normal != material.end())
            textures.push_back(whole_number(normal->at("index")));
        if (material.value("alphaMode", "OPAQUE") == "OPAQUE") continue;
        const auto metallic = material.find("pbrMetallicRoughness");
        if (metallic == material.end() || !metallic->contains("baseColorTexture")) continue;
        textures.push_back(whole_number(metallic->at("baseColorTexture").at("index")));
    }
    return textures;
}

/// A texture's own picture, or that of an extension (gltf_textures.hpp).
std::optional<std::size_t> image_of(const json& texture) {
    if (texture.contains("source")) return whole_number(texture.at("source"));
    for (const json& extension : list_of(texture, "extensions"))
        if (extension.contains("source")) return whole_number(extension.at("source"));
    return std::nullopt;
}

void add_pictures(GltfDocument& document, GltfContents& contents) {
    constexpr std::size_t head_bytes = 1 << 20;  // JPEG has its size behind all else of its head
    std::map<std::size_t, std::uint64_t> texels_of;
    for (const std::size_t texture : detail_textures(document.tree())) {
        const auto image = image_of(document.tree().at("textures").at(texture));
        if (!image) continue;
        const auto [at, is_new] = texels_of.try_emplace(*image);
        if (is_new) {
            const std::string head = document.image_start(*image, head_bytes);
            at->second =
                claimed_texels({reinterpret_cast<const unsigned char*>(head.data()), head.size()});
        }
        contents.texels += at->second;
        contents.largest_texels = std::max(contents.largest_texels, at->second);
    }
}

}  // namespace

std::optional<GltfContents> gltf_contents(const std::filesystem::path& file, RecordingIo& io,
                                          bool maps) {
    try {
        GltfDocument document(file, io);
        const json& tree = document.tree();
        GltfContents contents{size_of_meshes(tree), Places(tree).stored(), size_of_buffers(tree)};
        if (maps) add_pictures(document, contents);
        return contents;
    } catch (const json::exception&) {
    } catch (const std::out_of_range&) {
    } catch (const std::system_error&) {
    }
    return std::nullopt;
}

}  // namespace rakelight
