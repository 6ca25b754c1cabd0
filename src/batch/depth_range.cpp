#include "batch/depth_range.hpp"

#include <algorithm>
#include <limits>

namespace rakelight {

const std::array<double, 2> no_range_mm{std::numeric_limits<double>::max(),
                                        std::numeric_limits<double>::lowest()};

std::array<double, 2> visible_depth_mm(const PreparedScene& prepared, Renderer& renderer) {
    const BlankGeometry blank(prepared.scene.blank);
    const ImageGrid& grid = prepared.framing.grid;
    VisibleMeter meter(grid.px_per_mm);
    renderer.set_mesh(prepared.mesh, prepared.used);
    renderer.render(picture_request(prepared), [&](const RenderedPlanes& rows, int first_row) {
        meter.add(rows, blank_masks(blank, grid, first_row, rows.coverage.height), first_row);
    });
    const VisibleSubject visible = meter.subject();
    return {visible.near_mm, visible.far_mm};
}

std::array<double, 2> joined_range_mm(const std::array<double, 2>& a,
                                      const std::array<double, 2>& b) {
    return {std::min(a[0], b[0]), std::max(a[1], b[1])};
}

void set_depth_range(Scene& scene, const std::array<double, 2>& range_mm) {
    if (scene.passes.depth) scene.passes.depth->range_mm = range_mm;
}

}  // namespace rakelight
