// 3MF, read here and not by the general importer: that one knows neither the file's unit nor its
// objects' names, nor objects that lie in other parts of the package.

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <unordered_map>

#include "error.hpp"
#include "model/copies.hpp"
#include "model/import_bytes.hpp"
#include "model/readers/conventions.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/threemf_document.hpp"
#include "model/readers/xml.hpp"

namespace rakelight {
namespace {

using threemf::Object;
using threemf::ObjectKey;
using threemf::Package;
using threemf::Placed;

[[noreturn]] void refuse_no_number(std::string_view text) {
    throw Error(ExitCode::bad_model, "a corner of a triangle is \"" + std::string(text) +
                                         "\"; expected a number; export the model again");
}

/// Walks from the build's items down to the meshes, and appends each where it lies.
class Builder {
public:
    /// @param copies  false: what the file repeats is stored as often
    Builder(Package& package, Soup& soup, bool copies)
        : package_(package), soup_(soup), keeps_copies_(copies) {}

    void add(const Placed& placed, const glm::dmat4& model_from_parent, const std::string& name) {
        const Object& object = package_.object(placed.object);
        if (object.type == "support" || object.type == "solidsupport") {
            ++supports_;
            return;
        }
        if (std::find(open_.begin(), open_.end(), placed.object) != open_.end())
            throw Error(ExitCode::bad_model, "its object \"" + placed.object.id +
                                                 "\" has itself as a component; expected a sound "
                                                 "3MF file; export the model again");
        check_measure();
        open_.push_back(placed.object);
        const glm::dmat4 model_from_object = model_from_parent * placed.parent_from_object;
        const std::string& own = object.name.empty() ? name : object.name;
        for (const Placed& component : object.components) add(component, model_from_object, own);
        for (const auto& mesh : object.element.children())
            if (local_name(mesh.name()) == "mesh") add_mesh(mesh, object, model_from_object, own);
        open_.pop_back();
    }

    std::uint64_t supports() const { return supports_; }

private:
    // A few objects that each have the one before twice are millions of places, though each of
    // them is a short line. No exporter nests so deep or repeats so often (common practice).
    void check_measure() {
        constexpr std::size_t most_levels = 100;
        constexpr std::uint64_t most_places = 1'000'000;
        if (open_.size() >= most_levels)
            throw Error(ExitCode::bad_model,
                        "its objects lie more than " + std::to_string(most_levels) +
                            " deep in each other; expected a sound 3MF file; export the model "
                            "again");
        if (++places_ > most_places)
            throw Error(ExitCode::bad_model,
                        "its components repeat objects more than " + std::to_string(most_places) +
                            " times: it was made to exhaust the machine; expected a model; do not "
                            "trust where it came from");
    }

    void add_mesh(const pugi::xml_node& mesh, const Object& object,
                  const glm::dmat4& model_from_object, const std::string& name) {
        const std::uint32_t order = meshes_++;
        const std::string part_name = name.empty() ? "part" : name;
        const void* shape = mesh.internal_object();
        if (keeps_copies_ && copies_.is_doubled(shape, model_from_object)) {
            soup_.facts.dropped_doubled += count_triangles(mesh);
            return;
        }
        if (const auto copied = copied_from(shape, model_from_object)) {
            PartRange& part = soup_.parts[copied->stored];
            part.copies.push_back({part_name, copied->placement, order});
            return;
        }
        const std::size_t first_vertex = soup_.positions.size();
        const std::size_t first_triangle = soup_.indices.size() / 3;
        const bool mirrored = glm::determinant(glm::dmat3(model_from_object)) < 0.0;
        for (const auto& list : mesh.children()) {
            const std::string_view kind = local_name(list.name());
            if (kind == "vertices") add_vertices(list, model_from_object);
            if (kind == "triangles") add_triangles(list, first_vertex, mirrored);
            if (kind == "beamlattice") count_beams(list);
        }
        const std::size_t count = soup_.indices.size() / 3 - first_triangle;
        check_count(soup_.positions.size(), soup_.indices.size() / 3);
        check_room_for({soup_.positions.size(), soup_.indices.size() / 3}, false);
        copies_.store(shape, model_from_object, soup_.parts.size(), box_from(first_vertex));
        soup_.parts.push_back({part_name, object.material,
                               static_cast<std::uint32_t>(first_triangle),
                               static_cast<std::uint32_t>(count), false, no_detail, order,
                               static_cast<std::uint32_t>(first_vertex),
                               static_cast<std::uint32_t>(soup_.positions.size() - first_vertex)});
    }

    std::optional<CopyFinder::Found> copied_from(const void* shape,
                                                 const glm::dmat4& model_from_object) {
        if (!keeps_copies_) return std::nullopt;
        const auto found = copies_.find(shape, model_from_object, CopySizes::alike);
        return found && is_closed(soup_.parts[found->stored]) ? found : std::nullopt;
    }

    Bounds box_from(std::size_t first_vertex) const {
        constexpr double far = std::numeric_limits<double>::max();
        Bounds box{glm::dvec3(far), glm::dvec3(-far)};
        for (std::size_t v = first_vertex; v < soup_.positions.size(); ++v) {
            box.low = glm::min(box.low, glm::dvec3(soup_.positions[v]));
            box.high = glm::max(box.high, glm::dvec3(soup_.positions[v]));
        }
        return box;
    }

    // The normals are made, which depend on what is welded to an open edge.
    bool is_closed(const PartRange& part) {
        if (!part.copies.empty()) return true;
        const auto [known, is_new] = closed_.try_emplace(part.order, false);
        if (is_new)
            known->second = is_closed_shape(std::span<const std::uint32_t>(soup_.indices)
                                                .subspan(3 * std::size_t{part.first_triangle},
                                                         3 * std::size_t{part.triangle_count}));
        return known->second;
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
                const double index = take_number(text, "a corner of a triangle");
                if (std::isnan(index)) refuse_no_number(attribute.value());
                if (!(index >= 0.0 && index < double(vertices)))
                    refuse_index(static_cast<std::int64_t>(std::clamp(index, -1e15, 1e15)),
                                 vertices, 0);
                corners[name[1] - '1'] =
                    static_cast<std::uint32_t>(first_vertex + static_cast<std::size_t>(index));
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
    bool keeps_copies_;
    std::vector<ObjectKey> open_;
    CopyFinder copies_;
    std::unordered_map<std::uint32_t, bool> closed_;  ///< of parts, by their order
    std::uint32_t meshes_ = 0;
    std::uint64_t supports_ = 0;
    std::uint64_t places_ = 0;
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
