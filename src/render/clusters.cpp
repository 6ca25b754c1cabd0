#include "render/clusters.hpp"

#include <algorithm>
#include <array>
#include <limits>

namespace rakelight {
namespace {

std::array<glm::dvec3, 8> view_corners(const Cluster& cluster, const Camera& camera) {
    std::array<glm::dvec3, 8> corners;
    for (unsigned corner = 0; corner < 8; ++corner) {
        corners[corner] = camera.view_mm({(corner & 1U) != 0 ? cluster.high[0] : cluster.low[0],
                                          (corner & 2U) != 0 ? cluster.high[1] : cluster.low[1],
                                          (corner & 4U) != 0 ? cluster.high[2] : cluster.low[2]});
    }
    return corners;
}

}  // namespace

std::uint32_t part_of(const Mesh& mesh, std::uint32_t triangle) {
    const auto parts = mesh.parts();
    const auto after = std::upper_bound(
        parts.begin(), parts.end(), triangle,
        [](std::uint32_t wanted, const Part& part) { return wanted < part.first_triangle; });
    return static_cast<std::uint32_t>(after - parts.begin()) - 1;
}

DrawnClusters drawn_clusters(const Mesh& mesh, const std::vector<bool>& used) {
    DrawnClusters drawn;
    for (const auto& cluster : mesh.clusters()) {
        const std::uint32_t part = part_of(mesh, cluster.first_triangle);
        if (!used[part]) continue;
        drawn.clusters.push_back(cluster);
        drawn.parts.push_back(part);
    }
    return drawn;
}

// view = s R (L p + t - c) = s (R L) (p - L^-1 (c - t))
Camera camera_of_stored(const Camera& camera, const Placement& placement) {
    Camera stored = camera;
    stored.view_from_model = camera.view_from_model * placement.linear;
    stored.centre_model = glm::inverse(placement.linear) * (camera.centre_model - placement.shift);
    return stored;
}

bool overlap(const BlankBox& a, const BlankBox& b) {
    return a.low.x <= b.high.x && b.low.x <= a.high.x && a.low.y <= b.high.y && b.low.y <= a.high.y;
}

ViewRange view_range(const Cluster& cluster, const Camera& camera) {
    ViewRange range{std::numeric_limits<double>::max(), std::numeric_limits<double>::lowest()};
    for (const auto& corner : view_corners(cluster, camera)) {
        range.low_mm = std::min(range.low_mm, corner.z);
        range.high_mm = std::max(range.high_mm, corner.z);
    }
    return range;
}

BlankBox projected_box(const Cluster& cluster, const Camera& camera) {
    constexpr double most = std::numeric_limits<double>::max();
    BlankBox box{glm::dvec2(most), glm::dvec2(-most)};
    for (const auto& view : view_corners(cluster, camera)) {
        if (camera.projection == Projection::perspective && view.z >= 0.999 * camera.eye_mm) {
            return {glm::dvec2(-most), glm::dvec2(most)};
        }
        box.low = glm::min(box.low, camera.blank_mm(view));
        box.high = glm::max(box.high, camera.blank_mm(view));
    }
    return box;
}

}  // namespace rakelight
