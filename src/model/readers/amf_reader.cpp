// AMF (ISO/ASTM 52915, here from memory), read here and not by the general importer, whose time
// grows with the square of the triangles: 28 s for 80,000 of them, and for half a million more than
// an import may take.
//
// Objects hold a mesh: vertices, and volumes of triangles between them. A constellation places
// objects and other constellations by instances: turned about x, y and z, in degrees and in that
// order, and then moved. What no instance names lies where it is. Metadata of the type "name" names
// an object, a volume or a material.

#include <array>
#include <glm/gtc/matrix_transform.hpp>
#include <iterator>
#include <map>
#include <set>
#include <unordered_map>

#include "error.hpp"
#include "model/readers/conventions.hpp"
#include "model/readers/placed_shapes.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/stated.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/utf16.hpp"
#include "model/readers/xml.hpp"
#include "model/readers/zip_package.hpp"

namespace rakelight {
namespace {

using Element = pugi::xml_node;
using Elements = std::map<std::string, Element>;  ///< by their ids

[[noreturn]] void refuse(const std::string& what) {
    throw Error(ExitCode::bad_model, what + "; expected a sound AMF file; export the model again");
}

std::string name_of(const Element& element) {
    for (const Element& metadata : element.children("metadata"))
        if (std::string_view(metadata.attribute("type").value()) == "name")
            return std::string(trimmed(metadata.child_value()));
    return {};
}

double number_in(const Element& element, const char* child, const char* what) {
    std::string_view text = element.child_value(child);
    return take_number(text, what);
}

glm::dmat4 place_of(const Element& instance) {
    const auto number = [&](const char* child) {
        return instance.child(child) ? number_in(instance, child, "a number of an instance") : 0.0;
    };
    const glm::dmat4 one(1.0);
    const auto turn = [&](const char* child, glm::dvec3 axis) {
        return glm::rotate(one, glm::radians(number(child)), axis);
    };
    return glm::translate(one, {number("deltax"), number("deltay"), number("deltaz")}) *
           turn("rz", {0, 0, 1}) * turn("ry", {0, 1, 0}) * turn("rx", {1, 0, 0});
}

/// Appends what a document shows to a soup.
class Builder {
public:
    Builder(const Element& document, Soup& soup, bool copies)
        : document_(document), soup_(soup), shapes_(soup, copies) {
        for (const Element& element : document_.children()) {
            const std::string id = element.attribute("id").value(), name = element.name();
            if (name == "object" || name == "constellation") placeable_.emplace(id, element);
            if (name == "material") materials_.emplace(id, name_of(element));
            for (const Element& instance : element.children("instance"))
                placed_.insert(instance.attribute("objectid").value());
        }
    }

    void add_all() {
        for (const Element& element : document_.children()) {
            const bool shows = std::string_view(element.name()) == "object" ||
                               std::string_view(element.name()) == "constellation";
            if (shows && !placed_.contains(element.attribute("id").value()))
                add(element, glm::dmat4(1.0));
        }
    }

    std::uint64_t supports() const { return supports_; }
    bool any_curved() const { return curved_; }

private:
    void add(const Element& element, const glm::dmat4& model_from_element) {
        open_.open(element.internal_object(), element.attribute("id").value());
        for (const Element& instance : element.children("instance")) {
            const std::string id = instance.attribute("objectid").value();
            const auto found = placeable_.find(id);
            if (found == placeable_.end())
                refuse("an instance names the object \"" + id + "\", which is not there");
            add(found->second, model_from_element * place_of(instance));
        }
        for (const Element& mesh : element.children("mesh"))
            for (const Element& volume : mesh.children("volume"))
                add_volume(element, mesh, volume, model_from_element);
        open_.close();
    }

    void add_volume(const Element& object, const Element& mesh, const Element& volume,
                    const glm::dmat4& model_from_object) {
        if (std::string_view(volume.attribute("type").value()) == "support") {
            ++supports_;
            return;
        }
        const std::string& name = part_name(object, volume);
        const void* shape = volume.internal_object();
        const auto triangles = [&] {
            const auto list = volume.children("triangle");
            return static_cast<std::uint64_t>(std::distance(list.begin(), list.end()));
        };
        if (shapes_.repeats(shape, model_from_object, name, triangles)) return;
        read_points(mesh);
        for (const Element& triangle : volume.children("triangle"))
            for (const char* corner : {"v1", "v2", "v3"}) {
                std::string_view text = triangle.child_value(corner);
                soup_.indices.push_back(
                    vertex_of(take_corner(text, points_.size()), model_from_object));
            }
        for (const std::size_t point : used_) vertices_[point] = no_index;
        used_.clear();
        const auto material = materials_.find(volume.attribute("materialid").value());
        shapes_.store(shape, model_from_object, name,
                      material == materials_.end() ? std::string() : material->second);
    }

    /// Looked for once: a volume that is placed often may be long.
    const std::string& part_name(const Element& object, const Element& volume) {
        const auto [known, is_new] = names_.try_emplace(volume.internal_object());
        if (!is_new) return known->second;
        for (const std::string& name :
             {name_of(volume), name_of(object), std::string(object.attribute("id").value())})
            if (known->second.empty()) known->second = name;
        if (known->second.empty()) known->second = "part";
        return known->second;
    }

    /// The points that the mesh's volumes share.
    void read_points(const Element& mesh) {
        if (mesh == read_) return;
        read_ = mesh;
        points_.clear();
        for (const Element& list : mesh.children("vertices"))
            for (const Element& vertex : list.children()) {
                curved_ = curved_ || vertex.child("normal") || name_is(vertex, "edge");
                if (!name_is(vertex, "vertex")) continue;
                const Element at = vertex.child("coordinates");
                constexpr const char* what = "a coordinate of a vertex";
                points_.emplace_back(number_in(at, "x", what), number_in(at, "y", what),
                                     number_in(at, "z", what));
            }
        vertices_.assign(points_.size(), no_index);
    }

    static bool name_is(const Element& element, std::string_view name) {
        return element.name() == name;
    }

    /// The soup's vertex for a point of the volume that is read; each volume has its own.
    std::uint32_t vertex_of(std::size_t point, const glm::dmat4& model_from_object) {
        if (vertices_[point] == no_index) {
            vertices_[point] = static_cast<std::uint32_t>(soup_.positions.size());
            soup_.positions.emplace_back(
                glm::dvec3(model_from_object * glm::dvec4(points_[point], 1.0)));
            used_.push_back(point);
        }
        return vertices_[point];
    }

    Element document_;
    Soup& soup_;
    PlacedShapes shapes_;
    OpenObjects open_{{"AMF", "instances"}};
    Elements placeable_;
    std::map<std::string, std::string> materials_;        ///< their names, by their ids
    std::unordered_map<const void*, std::string> names_;  ///< of parts, by their volumes
    std::set<std::string> placed_;                        ///< ids that an instance names
    Element read_;                                        ///< the mesh whose points these are
    std::vector<glm::dvec3> points_;
    std::vector<std::uint32_t> vertices_;  ///< of the soup, by point
    std::vector<std::size_t> used_;        ///< points that have one
    std::uint64_t supports_ = 0;
    bool curved_ = false;
};

/// The document as it lies in the file, or what it was unpacked or written anew to.
std::string_view text_of(const MappedFile& file, std::string& kept) {
    std::optional<std::string> text;
    // The standard allows a zip archive with the document in it.
    if (begins_zip(file.bytes())) {
        text = read_packed(file.bytes(), ".amf");
        if (!text) refuse("its package has no AMF document in it");
    }
    if (auto utf8 = utf8_from_utf16(text ? *text : file.bytes())) text = std::move(utf8);
    if (!text) return file.bytes();
    kept = std::move(*text);
    return kept;
}

void read_head(std::string_view text, ModelFacts& facts) {
    constexpr std::size_t most_head_bytes = 1 << 16;
    apply_stated(facts.format, text.substr(0, most_head_bytes), facts);
}

}  // namespace

Soup read_amf(const MappedFile& file, const ReadingSettings& reading) {
    Soup soup;
    apply_conventions("Additive manufacturing", soup);
    pugi::xml_document document;
    {
        std::string kept;
        const std::string_view text = text_of(file, kept);
        read_head(text, soup.facts);
        document = parse_xml(text, "its document");
    }
    const Element root = document.child("amf");
    if (!root) refuse("its document has no <amf>");
    // A cage becomes as fine as each of its places needs.
    Builder builder(root, soup, reading.cage.rule == CageRule::none);
    builder.add_all();
    if (builder.supports() > 0)
        soup.facts.warnings.push_back("support structures were left out: " +
                                      std::to_string(builder.supports()));
    if (builder.any_curved())
        soup.facts.warnings.push_back(
            "its triangles are curved by normals or edges, and are taken flat");
    return soup;
}

}  // namespace rakelight
