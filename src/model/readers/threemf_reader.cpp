// 3MF, read here and not by the general importer: that one knows neither the file's unit nor its
// objects' names, nor objects that lie in other parts of the package.

#include <array>
#include <iterator>

#include "model/readers/conventions.hpp"
#include "model/readers/placed_shapes.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/threemf_document.hpp"
#include "model/readers/xml.hpp"

namespace rakelight {
namespace {

using threemf::Object;
using threemf::ObjectKey;
using threemf::Package;
using threemf::Placed;

/// Walks from the build's items down to the meshes, and appends each where it lies.
class Builder {
public:
    /// @param copies  false: what the file repeats is stored as often
    Builder(Package& package, Soup& soup, bool copies)
        : package_(package), soup_(soup), shapes_(soup, copies) {}

    void add(const Placed& placed, const glm::dmat4& model_from_parent, const std::string& name) {
        const Object& object = package_.object(placed.object);
        if (object.type == "support" || object.type == "solidsupport") {
            ++supports_;
            return;
        }
        open_.open(&object, placed.object.id);
        const glm::dmat4 model_from_object = model_from_parent * placed.parent_from_object;
        const std::string& own = object.name.empty() ? name : object.name;
        for (const Placed& component : object.components) add(component, model_from_object, own);
        for (const auto& mesh : object.element.children())
            if (local_name(mesh.name()) == "mesh") add_mesh(mesh, object, model_from_object, own);
        open_.close();
    }

    std::uint64_t supports() const { return supports_; }

private:
    void add_mesh(const pugi::xml_node& mesh, const Object& object,
                  const glm::dmat4& model_from_object, const std::string& name) {
        const std::string part_name = name.empty() ? "part" : name;
        const void* shape = mesh.internal_object();
        if (shapes_.repeats(shape, model_from_object, part_name,
                            [&] { return count_triangles(mesh); }))
            return;
        const std::size_t first_vertex = soup_.positions.size();
        const bool mirrored = glm::determinant(glm::dmat3(model_from_object)) < 0.0;
        for (const auto& list : mesh.children()) {
            const std::string_view kind = local_name(list.name());
            if (kind == "vertices") add_vertices(list, model_from_object);
            if (kind == "triangles") add_triangles(list, first_vertex, mirrored);
            if (kind == "beamlattice") count_beams(list);
        }
        shapes_.store(shape, model_from_object, part_name, object.material);
    }

    static std::uint64_t count_triangles(const pugi::xml_node& mesh) {
        std::uint64_t count = 0;
        for (const auto& list : mesh.children())
            if (local_name(list.name()) == "triangles")
                count += static_cast<std::uint64_t>(
                    std::distance(list.children().begin(), list.children().end()));
        return count;
    }

    void add_vertices(const pugi::xml_node& list, const glm::dmat4& model_from_object) {
        for (const auto& vertex : list.children()) {
            glm::dvec4 p(0.0, 0.0, 0.0, 1.0);
            for (const auto& attribute : vertex.attributes()) {
                const char* name = attribute.name();
                if (name[0] < 'x' || name[0] > 'z' || name[1] != '\0') continue;
                std::string_view text = attribute.value();
                p[name[0] - 'x'] = take_number(text, "a coordinate of a vertex");
            }
            soup_.positions.emplace_back(glm::dvec3(model_from_object * p));
        }
    }

    void add_triangles(const pugi::xml_node& list, std::size_t first_vertex, bool mirrored) {
        const std::size_t vertices = soup_.positions.size() - first_vertex;
        for (const auto& triangle : list.children()) {
            std::array<std::uint32_t, 3> corners{};
            for (const auto& attribute : triangle.attributes()) {
                const char* name = attribute.name();
                if (name[0] != 'v' || name[1] < '1' || name[1] > '3' || name[2] != '\0') continue;
                std::string_view text = attribute.value();
                corners[name[1] - '1'] =
                    static_cast<std::uint32_t>(first_vertex + take_corner(text, vertices));
            }
            // A transform that mirrors turns the triangles' outside in (core, section 3.3).
            if (mirrored) std::swap(corners[1], corners[2]);
            soup_.indices.insert(soup_.indices.end(), corners.begin(), corners.end());
        }
    }

    void count_beams(const pugi::xml_node& lattice) {
        for (const auto& list : lattice.children())
            if (local_name(list.name()) == "beams")
                for ([[maybe_unused]] const auto& beam : list.children())
                    ++soup_.facts.dropped_lines_points;
    }

    Package& package_;
    Soup& soup_;
    PlacedShapes shapes_;
    OpenObjects open_{{"3MF", "components"}};
    std::uint64_t supports_ = 0;
};

}  // namespace

Soup read_3mf(const MappedFile& file, const ReadingSettings& reading) {
    Package package(file.bytes());
    Soup soup;
    apply_conventions("3mf ", soup);
    // A cage becomes as fine as each of its places needs.
    Builder builder(package, soup, reading.cage.rule == CageRule::none);
    std::vector<Placed> items = package.items();
    if (items.empty()) {
        items = package.loose_objects();
        if (!items.empty())
            soup.facts.warnings.push_back("its build lists nothing: all objects are taken");
    }
    for (const Placed& item : items) builder.add(item, glm::dmat4(1.0), {});
    if (builder.supports() > 0)
        soup.facts.warnings.push_back("support structures were left out: " +
                                      std::to_string(builder.supports()));
    soup.facts.mm_per_unit = package.mm_per_unit();
    soup.facts.unit_reason =
        package.states_unit() ? "stated by the file" : "millimetres, the format's default";
    return soup;
}

}  // namespace rakelight
