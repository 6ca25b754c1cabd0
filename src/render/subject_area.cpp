#include "render/subject_area.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "render/curvature_processor.hpp"

namespace rakelight {
namespace {

struct SubjectBox {
    BlankBox on_blank;
    double low_z_mm = std::numeric_limits<double>::max();
    double high_z_mm = std::numeric_limits<double>::lowest();
};

void widen_by_cluster(SubjectBox& box, const Cluster& cluster, const Camera& camera) {
    const ViewRange range = view_range(cluster, camera);
    box.low_z_mm = std::min(box.low_z_mm, range.low_mm);
    box.high_z_mm = std::max(box.high_z_mm, range.high_mm);
    const BlankBox on_blank = projected_box(cluster, camera);
    box.on_blank.low = glm::min(box.on_blank.low, on_blank.low);
    box.on_blank.high = glm::max(box.on_blank.high, on_blank.high);
}

SubjectBox subject_box(const std::vector<Cluster>& clusters, const Camera& camera) {
    constexpr double most = std::numeric_limits<double>::max();
    SubjectBox box;
    box.on_blank = {glm::dvec2(most), glm::dvec2(-most)};
    for (const auto& cluster : clusters) widen_by_cluster(box, cluster, camera);
    return box;
}

// A pixel index of a coordinate, kept within what an int and a picture can mean.
int pixel_index(double value) {
    return static_cast<int>(std::clamp(value, -1e8, 1e8));
}

// The subject's box in pixels, cut to the picture and the guard around it, plus the border of one.
PixelRect work_rect(const SubjectBox& box, const ImageGrid& grid, int guard_px) {
    const int left = pixel_index(std::floor((box.on_blank.low.x - grid.left_mm) * grid.px_per_mm));
    const int right = pixel_index(std::ceil((box.on_blank.high.x - grid.left_mm) * grid.px_per_mm));
    const int top = pixel_index(std::floor((grid.top_mm - box.on_blank.high.y) * grid.px_per_mm));
    const int bottom = pixel_index(std::ceil((grid.top_mm - box.on_blank.low.y) * grid.px_per_mm));
    const int x0 = std::max(left, -guard_px) - 1;
    const int y0 = std::max(top, -guard_px) - 1;
    const int x1 = std::min(right, grid.width + guard_px) + 1;
    const int y1 = std::min(bottom, grid.height + guard_px) + 1;
    return {x0, y0, x1 - x0, y1 - y0};
}

// How many pixels one millimetre of view space spans at most: in perspective, what is near is
// large.
// @param top_mm  view z above everything
double largest_px_per_mm(const Camera& camera, const ImageGrid& grid, double top_mm) {
    if (camera.projection == Projection::parallel) return grid.px_per_mm;
    return grid.px_per_mm * camera.eye_mm / (camera.eye_mm - std::max(top_mm, 0.0));
}

}  // namespace

WorkArea work_area(const std::vector<Cluster>& clusters, const Camera& camera,
                   const ImageGrid& grid, int guard_px) {
    const SubjectBox box = subject_box(clusters, camera);
    const double spare = 1e-3 * (box.high_z_mm - box.low_z_mm) + 1e-6;
    WorkArea area;
    area.rect = work_rect(box, grid, guard_px);
    area.floor_mm = box.low_z_mm - spare;
    area.top_mm = box.high_z_mm + spare;
    if (camera.projection == Projection::perspective) {
        area.top_mm = std::min(area.top_mm, 0.9999 * camera.eye_mm);
    }
    return area;
}

WorkArea area_of(const RenderRequest& request, const std::vector<Cluster>& clusters) {
    // The nearest point, and with it the widest reach in perspective, is known only from the
    // subject's box: taken without a guard first.
    const WorkArea bare = work_area(clusters, request.camera, request.grid, 0);
    const double px_per_mm = largest_px_per_mm(request.camera, request.grid, bare.top_mm);
    const double reach_mm = request.occlusion_reach_mm.value_or(0.0);
    const int reach_px = static_cast<int>(std::ceil(std::min(reach_mm * px_per_mm, 1e6)));
    const double scale_px = request.curvature_scale_mm.value_or(0.0) * request.grid.px_per_mm;
    const int guard_px =
        2 + std::max(reach_px, curvature_reach_px(std::clamp(scale_px, 1e-3, 1e5)));
    return work_area(clusters, request.camera, request.grid, guard_px);
}

OcclusionWalk walk_of(const RenderRequest& request, const WorkArea& area) {
    return make_occlusion_walk(*request.occlusion_reach_mm *
                               largest_px_per_mm(request.camera, request.grid, area.top_mm));
}

}  // namespace rakelight
