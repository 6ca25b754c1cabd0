#include "poses/pose_meter.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "batch/passes.hpp"
#include "batch/wall_passes.hpp"

namespace rakelight {
namespace {

constexpr std::size_t depth_bins = 256;

double facing_mm2(const FacingSurface& surface, const Framing& framing) {
    if (surface.has_cut_outs()) return PoseFigures::unknown;
    const bool whole = framing.subject.outside_image_mm <= 0.0;
    return surface.area(framing.camera, whole ? nullptr : &framing.grid).surface_mm2();
}

}  // namespace

void ask_for_figures(RenderRequest& request, const Scene& scene, const BlankGeometry& blank) {
    if (request.occlusion_reach_mm) return;
    const OcclusionPass pass = scene.passes.occlusion.value_or(OcclusionPass{});
    request.occlusion_reach_mm = occlusion_reach_mm(pass, blank);
}

PoseMeter::PoseMeter(const Scene& scene, const FacingSurface& surface, const Framing& framing)
    : grid_(framing.grid),
      axis_mm_(framing.camera.picture_mm),
      eye_mm_(framing.camera.projection == Projection::perspective ? framing.camera.eye_mm : 0.0),
      whole_mm_(framing.subject.near_mm - framing.subject.far_mm),
      steep_slope_(steep_slope(scene.passes.steep.value_or(SteepPass{}))),
      facing_mm2_(facing_mm2(surface, framing)),
      rim_gap_mm_(framing.subject.field_gap_mm),
      meter_(framing.grid.px_per_mm) {}

void PoseMeter::add(const PictureRows& rows) {
    meter_.add(rows.planes, rows.masks, rows.first_row);
    const Plane& coverage = rows.planes.coverage;
    has_occlusion_ = !rows.planes.occlusion.values.empty();
    std::size_t at = 0;
    for (int y = 0; y < coverage.height; ++y) {
        for (int x = 0; x < coverage.width; ++x, ++at) {
            if (coverage.values[at] <= 0.0F) continue;
            add_pixel(rows.planes, at, grid_.centre_of(x, rows.first_row + y));
        }
    }
}

void PoseMeter::add_pixel(const RenderedPlanes& planes, std::size_t at, glm::dvec2 place_mm) {
    const double covered = planes.coverage.values[at];
    seen_.push_back({planes.height_mm.values[at], planes.coverage.values[at]});
    covered_px_ += covered;
    moment_mm_px_ += covered * place_mm;
    if (slope_of(planes, at, place_mm) > steep_slope_) steep_px_ += covered;
    if (has_occlusion_) closed_px_ += covered * (1.0 - planes.occlusion.values[at]);
}

// Of the depth as it is drawn, mm for a mm of the picture. In perspective a place p of the picture,
// from the axis, shows the point (p (1 - z / eye), z); on a plane of normal n that gives
// grad z = -n_xy (1 - z / eye) / (n_z - n_xy . p / eye).
double PoseMeter::slope_of(const RenderedPlanes& planes, std::size_t at,
                           glm::dvec2 place_mm) const {
    const glm::dvec2 across(planes.normal_x.values[at], planes.normal_y.values[at]);
    double facing = planes.normal_z.values[at];
    double growth = 1.0;
    if (eye_mm_ > 0.0) {
        facing -= glm::dot(across, place_mm - axis_mm_) / eye_mm_;
        growth -= planes.height_mm.values[at] / eye_mm_;
    }
    // A mean of normals may look past the viewer.
    if (facing <= 0.0) return std::numeric_limits<double>::infinity();
    return glm::length(across) * growth / facing;
}

VisibleSubject PoseMeter::visible() const {
    VisibleSubject visible = meter_.subject();
    flatten_rounding(visible, whole_mm_);
    return visible;
}

// Shannon's entropy of the depth codes' upper eight bits, were there no margins, as a share of the
// most that there can be.
double PoseMeter::evenness(const VisibleSubject& visible) const {
    const double depth_mm = visible.far_mm - visible.near_mm;
    if (depth_mm <= 0.0) return 0.0;
    std::array<double, depth_bins> histogram{};
    for (const Seen& pixel : seen_) {
        const double rise = (visible.far_mm + pixel.height_mm) / depth_mm;
        const auto bin = static_cast<std::size_t>(std::max(rise, 0.0) * depth_bins);
        histogram[std::min(bin, depth_bins - 1)] += pixel.coverage;
    }
    double bits = 0.0;
    for (const double covered : histogram) {
        if (covered > 0.0) bits -= covered / covered_px_ * std::log2(covered / covered_px_);
    }
    return bits / std::log2(double{depth_bins});
}

PoseFigures PoseMeter::figures() const {
    const VisibleSubject seen = visible();
    PoseFigures figures;
    figures.field_share = seen.field_share;
    figures.depth_mm = seen.far_mm - seen.near_mm;
    figures.depth_evenness = evenness(seen);
    // Sheets may show more than the triangles promise, and samples may by a trifle.
    if (facing_mm2_ > 0.0) figures.hidden_share = std::max(1.0 - seen.area_mm2 / facing_mm2_, 0.0);
    figures.steep_share = steep_px_ / covered_px_;
    if (has_occlusion_) figures.crevice_share = closed_px_ / covered_px_;
    figures.rim_gap_mm = rim_gap_mm_;
    figures.off_middle_mm = glm::length(moment_mm_px_ / covered_px_);
    return figures;
}

}  // namespace rakelight
