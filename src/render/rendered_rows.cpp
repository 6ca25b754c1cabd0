#include "render/rendered_rows.hpp"

#include <algorithm>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

// Calls put(index in the map, index in the picture) for every pixel that both have, from several
// threads.
template <typename Put>
void scatter(const PixelRect& rect, const ImageGrid& grid, Put put) {
    const int x0 = std::max(rect.x, 0);
    const int x1 = std::min(rect.x + rect.width, grid.width);
    const int y0 = std::max(rect.y, 0);
    const int y1 = std::min(rect.y + rect.height, grid.height);
    for_row_bands(std::max(y1 - y0, 0), [&](int first, int end) {
        for (int y = y0 + first; y < y0 + end; ++y) {
            const std::size_t from = static_cast<std::size_t>(y - rect.y) * rect.width - rect.x;
            const std::size_t to = static_cast<std::size_t>(y) * grid.width;
            for (int x = x0; x < x1; ++x) put(from + x, to + x);
        }
    });
}

}  // namespace

ImageGrid rows_of(const ImageGrid& grid, int first_row, int rows) {
    return {grid.width, rows, grid.px_per_mm, grid.left_mm,
            grid.top_mm - first_row / grid.px_per_mm};
}

void place_map(const float* map, const PixelRect& rect, const ImageGrid& grid, Plane& plane) {
    scatter(rect, grid, [&](std::size_t from, std::size_t to) { plane.values[to] = map[from]; });
}

void place_heights(const float* lifts, const float* mask, const WorkArea& area,
                   const ImageGrid& grid, Plane& plane) {
    const auto floor = static_cast<float>(area.floor_mm);
    scatter(area.rect, grid, [&](std::size_t from, std::size_t to) {
        plane.values[to] = mask[from] > 0.0F ? lifts[from] + floor : 0.0F;
    });
}

void place_numbers(const std::uint32_t* numbers, const PixelRect& rect, const ImageGrid& grid,
                   std::vector<std::uint32_t>& to_all) {
    scatter(rect, grid, [&](std::size_t from, std::size_t to) { to_all[to] = numbers[from]; });
}

RenderedPlanes empty_planes(const RenderRequest& request, const ImageGrid& grid) {
    const int w = grid.width;
    const int h = grid.height;
    RenderedPlanes planes;
    planes.coverage = Plane(w, h);
    planes.height_mm = Plane(w, h);
    planes.normal_x = Plane(w, h);
    planes.normal_y = Plane(w, h);
    planes.normal_z = Plane(w, h, 1.0F);
    if (request.occlusion_reach_mm) planes.occlusion = Plane(w, h, 1.0F);
    if (request.curvature_scale_mm) planes.curvature = Plane(w, h);
    if (request.contour_step_mm) planes.contour = Plane(w, h);
    planes.masks.assign(request.mask_parts.size(), Plane(w, h));
    if (request.mask_heights) planes.mask_heights_mm = planes.masks;
    if (request.part_numbers) planes.part_numbers.assign(planes.coverage.values.size(), 0);
    if (request.undercut_least_mm) {
        for (Plane* plane : planes.undercut.all()) *plane = Plane(w, h);
    }
    if (request.steep_slope) {
        for (Plane* plane : planes.steep.all()) *plane = Plane(w, h);
    }
    return planes;
}

void place_surface(const SurfaceMaps& maps, const WorkArea& area, const ImageGrid& grid,
                   RenderedPlanes& planes) {
    const auto floor = static_cast<float>(area.floor_mm);
    scatter(area.rect, grid, [&](std::size_t from, std::size_t to) {
        const float* n = maps.normal_coverage + 4 * from;
        planes.coverage.values[to] = n[3];
        planes.height_mm.values[to] = n[3] > 0.0F ? maps.lift_mm[from] + floor : 0.0F;
        planes.normal_x.values[to] = n[0];
        planes.normal_y.values[to] = n[1];
        planes.normal_z.values[to] = n[2];
    });
}

}  // namespace rakelight
