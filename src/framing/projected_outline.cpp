#include "framing/projected_outline.hpp"

#include <algorithm>

#include "error.hpp"

namespace rakelight {
namespace {

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
