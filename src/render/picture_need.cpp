#include "render/picture_need.hpp"

#include <algorithm>

#include "render/clusters.hpp"
#include "render/processor_renderer.hpp"
#include "render/sample_mesh.hpp"
#include "render/strip_plan.hpp"
#include "render/subject_area.hpp"
#include "share_work.hpp"

namespace rakelight {
namespace {

constexpr std::uint64_t of_float = sizeof(float);

// Planes beside those that are always there; each is one float a pixel in a strip, and again in
// what is delivered.
std::uint64_t asked_planes(const RenderRequest& request) {
    std::uint64_t planes = request.mask_parts.size() * (request.mask_heights ? 2 : 1);
    planes += request.contour_step_mm.has_value();
    planes += request.part_numbers;
    if (request.undercut_least_mm) planes += Undercut<Plane>().all().size();
    if (request.steep_slope) planes += Steep<Plane>().all().size();
    return planes;
}

// Rows that are rastered, wait for their passes, or are looked at by those of others: Strip.
std::uint64_t strip_bytes(const RenderRequest& request, const WorkArea& area, const StripPlan& plan,
                          bool detail) {
    constexpr std::uint64_t always = 7 * of_float + 1;  // lift, its range, normal and coverage
    const std::int64_t rows =
        std::min<std::int64_t>(area.rect.height, std::int64_t{3} * plan.rows + plan.margin +
                                                     std::max(blend_px + plan.reach, plan.margin));
    const std::uint64_t a_pixel = always + of_float * (asked_planes(request) + (detail ? 2 : 0));
    return static_cast<std::uint64_t>(rows * area.rect.width) * a_pixel;
}

// A strip with its margin, what curvature makes of it, and the planes that are handed on.
std::uint64_t work_bytes(const RenderRequest& request, const WorkArea& area,
                         const StripPlan& plan) {
    constexpr std::uint64_t window = 7 * of_float + 1, values = 2 * of_float;
    constexpr std::uint64_t curvature = 10 * of_float + 1;  // planes, fits and means of both ways
    const auto rows = std::min<std::int64_t>(area.rect.height, plan.rows + 2 * plan.margin);
    const auto worked = static_cast<std::uint64_t>(rows * area.rect.width) *
                        (window + values + (request.curvature_scale_mm ? curvature : 0));
    const std::uint64_t planes = 7 + asked_planes(request);
    const auto delivered = static_cast<std::uint64_t>(std::min(plan.rows, request.grid.height)) *
                           static_cast<std::uint64_t>(request.grid.width) * planes;
    // Their codes, while they are made.
    return worked + delivered * (of_float + sizeof(std::uint16_t));
}

std::uint64_t height_bytes(const WorkArea& area, int reach_px) {
    const auto side = [&](int px) { return std::uint64_t(px) + 2 * std::uint64_t(reach_px) + 64; };
    return side(area.rect.width) * side(area.rect.height) * of_float;
}

}  // namespace

std::uint64_t picture_bytes(const RenderRequest& request, const Mesh& mesh,
                            const std::vector<bool>& used) {
    WorkArea area = area_of(request, drawn_clusters(mesh, used).clusters);
    if (area.is_empty()) area.rect = {0, 0, 0, 0};
    const int reach_px = request.occlusion_reach_mm ? walk_of(request, area).reach_px : 0;
    const StripPlan plan(request, area, reach_px, usual_strip_px);
    const bool detail = !mesh.details().empty();
    const std::uint64_t a_vertex = sizeof(SampleVertex) + (detail ? sizeof(DetailCorner) : 0);
    constexpr std::uint64_t refs = 2 * sizeof(TriangleRef);     // in the lists of tiles
    constexpr std::uint64_t a_thread = std::uint64_t{2} << 20;  // samples of a tile, and its stack
    return strip_bytes(request, area, plan, detail) + work_bytes(request, area, plan) +
           (request.occlusion_reach_mm ? height_bytes(area, reach_px) : 0) +
           std::uint64_t{mesh.vertex_count()} * a_vertex +
           std::uint64_t{mesh.triangle_count()} * refs + machine_threads() * a_thread;
}

}  // namespace rakelight
