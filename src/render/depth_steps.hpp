#pragma once
// Private to render/: pixels that a depth step runs through. They show two surfaces; their mean
// height and normal belong to neither, so that occlusion and curvature are not computed there but
// mixed from both sides.

#include <cstdint>
#include <vector>

#include "render/work_area.hpp"

namespace rakelight {

/// 1 for every pixel whose samples differ in height by much more than a surface of its mean normal
/// would within the pixel: by twice that and one pixel more.
std::vector<std::uint8_t> mixed_pixels(const SurfaceMaps& maps, double px_per_mm);

/// Gives every mixed pixel the mean of its unmixed neighbours on the near and on the far side,
/// weighted by how much of it each side covers: an antialiased edge. Pixels without an unmixed
/// neighbour within two keep their value.
/// @param values  one a pixel, in the maps' order
void blend_mixed_pixels(const SurfaceMaps& maps, const std::vector<std::uint8_t>& mixed,
                        std::vector<float>& values);

}  // namespace rakelight
