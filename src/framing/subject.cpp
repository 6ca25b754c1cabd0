#include "framing/subject.hpp"

#include <algorithm>
#include <limits>
#include <utility>

#include "framing/outer_points.hpp"

namespace rakelight {
namespace {

std::vector<bool> vertices_in_use(const Mesh& mesh, const std::vector<bool>& used) {
    const bool all = std::find(used.begin(), used.end(), false) == used.end();
    std::vector<bool> flags(mesh.vertices().size(), all);  // no vertex is without a triangle
    if (all) return flags;
    for (std::size_t i = 0; i < used.size(); ++i) {
        if (!used[i]) continue;
        const Part& part = mesh.parts()[i];
        const std::size_t first = std::size_t{3} * part.first_triangle;
        const std::size_t count = std::size_t{3} * part.triangle_count;
        for (const auto index : mesh.indices().subspan(first, count)) flags[index] = true;
    }
    return flags;
}

}  // namespace

Subject subject_of(const Mesh& mesh, const std::vector<bool>& used) {
    Subject subject;
    Bounds box{glm::dvec3(std::numeric_limits<double>::max()),
               glm::dvec3(std::numeric_limits<double>::lowest())};
    const auto flags = vertices_in_use(mesh, used);
    subject.points.reserve(flags.size());
    for (std::size_t i = 0; i < flags.size(); ++i) {
        if (!flags[i]) continue;
        const auto& p = mesh.vertices()[i].position;
        const glm::dvec3 point(p[0], p[1], p[2]);
        box.low = glm::min(box.low, point);
        box.high = glm::max(box.high, point);
        subject.points.push_back(point);
    }
    subject.centre = box.centre();
    subject.points = outer_points(std::move(subject.points));
    return subject;
}

}  // namespace rakelight
