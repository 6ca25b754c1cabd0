#pragma once
// The occlusion pass on the processor: what shaders/occlusion.frag does, for machines whose OpenGL
// driver is software. There every look-up of a shader costs an address of its own; here a tap of a
// whole row is one run of memory.

#include <vector>

#include "render/walk.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// The open share of every pixel of the maps, 0..1, in their order; 1 where nothing is. The same as
/// the shader's within 2e-5 (rounding: both work in single precision, in another order).
/// @param walk      made for reach_mm * grid.px_per_mm
/// @param reach_mm  > 0
std::vector<float> occlusion_on_processor(const OcclusionWalk& walk, double reach_mm,
                                          const Camera& camera, const ImageGrid& grid,
                                          const WorkArea& area, const SurfaceMaps& maps);

}  // namespace rakelight
