#include "framing/subject.hpp"

#include <algorithm>
#include <limits>

#include "error.hpp"

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

std::vector<glm::dvec2> project(const std::vector<glm::dvec3>& points, double scale,
                                double eye_mm) {
    std::vector<glm::dvec2> places(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
        const glm::dvec3 view = scale * points[i];
        places[i] = glm::dvec2(view) * (eye_mm > 0.0 ? eye_mm / (eye_mm - view.z) : 1.0);
    }
    return places;
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
    return subject;
}

DepthRange depth_range(const std::vector<glm::dvec3>& points) {
    const auto [far, near] =
        std::minmax_element(points.begin(), points.end(),
                            [](const glm::dvec3& a, const glm::dvec3& b) { return a.z < b.z; });
    return {near->z, far->z};
}

std::vector<HullCorner> projected_hull(const std::vector<glm::dvec3>& points, double scale,
                                       double eye_mm) {
    auto hull = convex_hull(project(points, scale, eye_mm));
    if (hull.size() >= 2) return hull;
    throw Error(ExitCode::unusable_picture,
                "seen from this pose the subject is a single point; expected a shape with an "
                "outline: check [model] use and [pose]");
}

}  // namespace rakelight
