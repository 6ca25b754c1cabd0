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

/// What a primitive has, before anything is shown.
struct Primitive {
    SurfaceSize size;     ///< its vertices, which it may share with others
    SurfaceSize surface;  ///< those of them that its triangles can use
    Bounds box;
    bool has_targets = false;
};

class Counter {
public:
    Counter(const json& file, std::uint64_t buffer_bytes)
        : file_(file), buffer_bytes_(buffer_bytes) {}

    Primitive primitive(const json& from) const {
        const json& positions = accessor(from.at("attributes").at("POSITION"));
        Primitive primitive;
        primitive.size.vertices = elements(positions);
        const auto indices = from.find("indices");
        const std::uint64_t corners =
            indices == from.end() ? primitive.size.vertices : elements(accessor(*indices));
        const std::size_t mode = whole_member(from, "mode", 4);  // 5.24.4
        if (mode == 4) primitive.size.triangles = corners / 3;
        if (mode == 5 || mode == 6)
            primitive.size.triangles = corners - std::min<std::uint64_t>(corners, 2);
        primitive.surface = {std::min(primitive.size.vertices, 3 * primitive.size.triangles),
                             primitive.size.triangles};
        primitive.box = bounds(positions);
        primitive.has_targets = !list_of(from, "targets").empty();
        return primitive;
    }

    /// How many elements an accessor has: no more than its buffers have bytes, and no more than a
    /// thousand times as many where it is packed by Draco, whose triangles take a bit or two.
    std::uint64_t elements(const json& accessor) const {
        const std::uint64_t count = whole_number(accessor.at("count"));
        const std::uint64_t most = (accessor.contains("bufferView") ? 1 : 1000) * buffer_bytes_;
        if (count > most) throw std::out_of_range("more than there is");
        return count;
    }

    const json& accessor(const json& number) const {
        return file_.at("accessors").at(whole_number(number));
    }

private:
    /// 3.6.2.5: positions state their bounds; where they do not, any will do.
    static Bounds bounds(const json& positions) {
        const auto corner = [&](const char* member, double otherwise) {
            auto numbers = positions.value(member, std::vector<double>(3, otherwise));
            return glm::dvec3(numbers.at(0), numbers.at(1), numbers.at(2));
        };
        return {corner("min", -1.0), corner("max", 1.0)};
    }

    const json& file_;
    std::uint64_t buffer_bytes_;
};

void add(SurfaceSize& sum, const SurfaceSize& size) {
    sum.vertices += size.vertices;
    sum.triangles += size.triangles;
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

using Meshes = std::vector<std::vector<Primitive>>;

Meshes meshes_of(const json& file, const Counter& counter) {
    Meshes meshes;
    for (const json& mesh : list_of(file, "meshes")) {
        meshes.emplace_back();
        for (const json& primitive : mesh.at("primitives"))
            meshes.back().push_back(counter.primitive(primitive));
    }
    return meshes;
}

SurfaceSize size_in_file(const json& file, const Meshes& meshes) {
    SurfaceSize all;
    for (std::size_t m = 0; m < meshes.size(); ++m)
        for (std::size_t p = 0; p < meshes[m].size(); ++p) {
            const SurfaceSize& size = meshes[m][p].size;
            const json& primitive = file.at("meshes")[m].at("primitives")[p];
            add(all, {size.vertices * (1 + list_of(primitive, "targets").size()), size.triangles});
        }
    return all;
}

/// Adds up what the nodes of a scene show.
class Places {
public:
    Places(const json& file, const Meshes& meshes, const ReadingSettings& reading)
        : file_(file), nodes_(list_of(file, "nodes")), meshes_(meshes), reading_(reading) {}

    SurfaceSize stored() {
        const json& scene = file_.at("scenes").at(whole_member(file_, "scene", 0));
        struct Open {
            std::size_t node, depth;
            glm::dmat4 parent;
        };
        std::vector<Open> open;  // the next one is the last
        const auto add_below = [&](const json& parent, const char* member, std::size_t depth,
                                   const glm::dmat4& at) {
            const auto numbers = whole_members(parent, member);
            for (auto i = numbers.rbegin(); i != numbers.rend(); ++i)
                open.push_back({*i, depth, at});
        };
        add_below(scene, "nodes", 1, glm::dmat4(1.0));
        while (!open.empty()) {
            const auto [number, depth, parent] = open.back();
            open.pop_back();
            look();
            // A branch longer than there are nodes has itself as a branch (3.5.2).
            if (depth > nodes_.size()) throw std::out_of_range("no tree");
            const json& node = nodes_.at(number);
            const glm::dmat4 model_from_node = parent * matrix_of(node);
            if (node.contains("mesh")) add_mesh(node, model_from_node);
            add_below(node, "children", depth + 1, model_from_node);
        }
        return stored_;
    }

private:
    /// A few nodes that each have the one before twice are more places than anybody can show.
    void look() {
        constexpr std::uint64_t most_looks = 4'000'000;
        if (++looks_ > most_looks) throw std::out_of_range("no tree");
    }

    void add_mesh(const json& node, const glm::dmat4& place) {
        const std::size_t number = whole_number(node.at("mesh"));
        const bool moves = node.contains("skin"), bends = has_weights(node, number);
        for (const Primitive& primitive : meshes_.at(number)) {
            look();
            if (moves || (bends && primitive.has_targets) || !is_copy(primitive, place))
                add(stored_, primitive.surface);
        }
    }

    /// Whether shapes may move its points: then no two places need be the same.
    bool has_weights(const json& node, std::size_t mesh) const {
        if (!reading_.posing.clip.empty() || !reading_.posing.shapes.empty()) return true;
        for (const json* object : {&node, &file_.at("meshes").at(mesh)})
            for (const json& weight : list_of(*object, "weights"))
                if (weight != 0.0) return true;
        return false;
    }

    bool is_copy(const Primitive& primitive, const glm::dmat4& place) {
        if (reading_.cage.rule != CageRule::none) return false;
        if (finder_.is_doubled(&primitive, place)) return true;
        if (finder_.find(&primitive, place, CopySizes::alike)) return true;
        finder_.store(&primitive, place, 0,
                      placed_box(primitive.box, glm::dmat3(place), glm::dvec3(place[3])));
        return false;
    }

    const json& file_;
    const json& nodes_;
    const Meshes& meshes_;
    const ReadingSettings& reading_;
    CopyFinder finder_;
    SurfaceSize stored_;
    std::uint64_t looks_ = 0;
};

std::uint64_t count_keys(const json& file, const Counter& counter) {
    std::uint64_t keys = 0;
    for (const json& clip : list_of(file, "animations"))
        for (const json& channel : list_of(clip, "channels")) {
            const json& sampler = clip.at("samplers").at(whole_number(channel.at("sampler")));
            keys += counter.elements(counter.accessor(sampler.at("output")));
        }
    return keys;
}

/// All values of a tree, however deep.
std::uint64_t count_values(const json& tree) {
    std::uint64_t count = 0;
    std::vector<const json*> open{&tree};
    while (!open.empty()) {
        const json& value = *open.back();
        open.pop_back();
        ++count;
        if (value.is_structured())
            for (const json& inner : value) open.push_back(&inner);
    }
    return count;
}

/// A texture that import_textures reads, and how many planes of two channels it becomes.
struct DetailTexture {
    std::size_t number;
    double planes;
};

/// As often as a material has them.
std::vector<DetailTexture> detail_textures(const json& file) {
    constexpr double of_slopes = 1.0, of_cut_out = 0.5;
    std::vector<DetailTexture> textures;
    for (const json& material : list_of(file, "materials")) {
        if (const auto normal = material.find("normalTexture"); normal != material.end())
            textures.push_back({whole_number(normal->at("index")), of_slopes});
        if (material.value("alphaMode", "OPAQUE") == "OPAQUE") continue;
        const auto metallic = material.find("pbrMetallicRoughness");
        if (metallic == material.end() || !metallic->contains("baseColorTexture")) continue;
        textures.push_back(
            {whole_number(metallic->at("baseColorTexture").at("index")), of_cut_out});
    }
    return textures;
}

/// A texture's own picture, or that of an extension (gltf_mend.hpp).
std::optional<std::size_t> image_of(const json& texture) {
    if (texture.contains("source")) return whole_number(texture.at("source"));
    for (const json& extension : list_of(texture, "extensions"))
        if (extension.contains("source")) return whole_number(extension.at("source"));
    return std::nullopt;
}

void add_pictures(GltfDocument& document, GltfContents& contents) {
    constexpr std::size_t head_bytes = 1 << 20;  // JPEG has its size behind all else of its head
    std::map<std::size_t, std::uint64_t> texels_of;
    for (const DetailTexture& texture : detail_textures(document.tree())) {
        const auto image = image_of(document.tree().at("textures").at(texture.number));
        if (!image) continue;
        const auto [at, is_new] = texels_of.try_emplace(*image);
        if (is_new) {
            const std::string head = document.image_start(*image, head_bytes);
            at->second =
                claimed_texels({reinterpret_cast<const unsigned char*>(head.data()), head.size()});
        }
        contents.texels += static_cast<std::uint64_t>(texture.planes * double(at->second));
        contents.largest_texels = std::max(contents.largest_texels, at->second);
    }
}

void count(GltfDocument& document, const ReadingSettings& reading, GltfContents& contents) {
    const json& tree = document.tree();
    for (const json& buffer : list_of(tree, "buffers"))
        contents.buffer_bytes += document.buffer_size(buffer);
    const Counter counter(tree, contents.buffer_bytes);
    const Meshes meshes = meshes_of(tree, counter);
    contents.in_file = size_in_file(tree, meshes);
    contents.stored = Places(tree, meshes, reading).stored();
    contents.nodes = list_of(tree, "nodes").size();
    contents.keys = count_keys(tree, counter);
    if (reading.maps) add_pictures(document, contents);
    contents.counted = true;
}

}  // namespace

std::optional<GltfContents> gltf_contents(const std::filesystem::path& file, RecordingIo& io,
                                          const ReadingSettings& reading) {
    GltfContents contents;
    try {
        GltfDocument document(file, io);
        contents.json_bytes = document.json_size();
        contents.json_values = count_values(document.tree());
        count(document, reading, contents);
    } catch (const json::exception&) {
    } catch (const std::out_of_range&) {
    } catch (const std::system_error&) {
    }
    if (contents.json_values == 0) return std::nullopt;
    return contents;
}

}  // namespace rakelight
