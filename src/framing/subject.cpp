#include "framing/subject.hpp"

#include <algorithm>
#include <limits>
#include <unordered_map>
#include <utility>

#include "framing/outer_points.hpp"

namespace rakelight {
namespace {

/// Flags for vertices, from `first` on, that a part's triangles have.
void flag_vertices(const PartSurface& surface, std::uint32_t first, std::vector<bool>& flags) {
    for (const auto index : surface.indices()) flags[index - first] = true;
}

/// Those of parts that are drawn where they are stored.
std::vector<bool> vertices_in_use(const Mesh& mesh, const std::vector<bool>& used) {
    const std::size_t own = mesh.parts().size() - mesh.copies().size();
    const auto end = used.begin() + static_cast<std::ptrdiff_t>(own);
    const bool all = std::find(used.begin(), end, false) == end;
    std::vector<bool> flags(mesh.vertices().size(), all);  // no vertex is without a triangle
    for (std::size_t i = 0; i < own && !all; ++i)
        if (used[i]) flag_vertices(mesh.surface(i), 0, flags);
    return flags;
}

/// The stored points that are flagged.
/// @param first  the vertex that the first flag is of
std::vector<glm::dvec3> points_of(const Mesh& mesh, std::uint32_t first,
                                  const std::vector<bool>& flags) {
    std::vector<glm::dvec3> points;
    points.reserve(flags.size());
    for (std::size_t i = 0; i < flags.size(); ++i) {
        if (!flags[i]) continue;
        const auto& p = mesh.vertices()[first + i].position;
        points.emplace_back(p[0], p[1], p[2]);
    }
    return points;
}

/// Adds the points of copies; those of a part that can lie on an outline are sought once.
class CopiedPoints {
public:
    explicit CopiedPoints(const Mesh& mesh) : mesh_(mesh) {}

    void add(const PartCopy& copy, std::vector<glm::dvec3>& points) {
        const auto [known, is_new] = outer_.try_emplace(copy.of);
        if (is_new) known->second = outer_of(copy);
        for (const auto& point : known->second) points.push_back(copy.placement.at(point));
    }

private:
    std::vector<glm::dvec3> outer_of(const PartCopy& copy) const {
        std::vector<bool> flags(copy.vertex_count, false);
        flag_vertices(mesh_.surface(copy.of), copy.first_vertex, flags);
        return outer_points(points_of(mesh_, copy.first_vertex, flags));
    }

    const Mesh& mesh_;
    std::unordered_map<std::uint32_t, std::vector<glm::dvec3>> outer_;
};

/// Points that lie within the others go now and then, so that many copies take no more memory than
/// their outline.
void add_copied_points(const Mesh& mesh, const std::vector<bool>& used,
                       std::vector<glm::dvec3>& points) {
    constexpr std::size_t many = 1 << 20;
    CopiedPoints copied(mesh);
    std::size_t enough = std::max(many, 2 * points.size());
    for (std::size_t i = mesh.parts().size() - mesh.copies().size(); i < used.size(); ++i) {
        if (!used[i]) continue;
        copied.add(mesh.copies()[mesh.parts()[i].copy], points);
        if (points.size() < enough) continue;
        points = outer_points(std::move(points));
        enough = std::max(many, 2 * points.size());
    }
}

}  // namespace

Subject subject_of(const Mesh& mesh, const std::vector<bool>& used) {
    Subject subject;
    Bounds box{glm::dvec3(std::numeric_limits<double>::max()),
               glm::dvec3(std::numeric_limits<double>::lowest())};
    subject.points = points_of(mesh, 0, vertices_in_use(mesh, used));
    add_copied_points(mesh, used, subject.points);
    for (const glm::dvec3& point : subject.points) {
        box.low = glm::min(box.low, point);
        box.high = glm::max(box.high, point);
    }
    subject.centre = box.centre();
    subject.points = outer_points(std::move(subject.points));
    return subject;
}

}  // namespace rakelight
