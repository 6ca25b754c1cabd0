#pragma once
// Private to render/: from the maps of a work area to planes of the picture, or of some of its
// rows.

#include "render/renderer.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// The grid of rows [first_row, first_row + rows) of a picture.
ImageGrid rows_of(const ImageGrid& grid, int first_row, int rows);

/// Planes of the grid's size that show nothing.
RenderedPlanes empty_planes(const RenderRequest& request, const ImageGrid& grid);

/// Copies what the maps and the grid both have.
/// @param area  its rect: where the maps lie, in the grid's pixels
void place_surface(const SurfaceMaps& maps, const WorkArea& area, const ImageGrid& grid,
                   RenderedPlanes& planes);
/// Of lifts: heights, where the mask is not 0.
void place_heights(const float* lifts, const float* mask, const WorkArea& area,
                   const ImageGrid& grid, Plane& plane);
void place_numbers(const std::uint32_t* numbers, const PixelRect& rect, const ImageGrid& grid,
                   std::vector<std::uint32_t>& to);
void place_map(const float* map, const PixelRect& rect, const ImageGrid& grid, Plane& plane);

}  // namespace rakelight
