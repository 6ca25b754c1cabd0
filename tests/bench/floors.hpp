#pragma once
// Floors: what a step costs alone, warm, by the library's own call, with nothing around it.

#include "batch/job.hpp"
#include "measuring.hpp"

namespace bench {

/// The raster with its resolve, no other pass asked for; the maps placed into planes (on a GPU:
/// read back); occlusion alone on that, curvature alone on that. One pass at a time, so that none
/// profits from another's work. A process pays for more: start-up, the mesh from the cache,
/// framing, memory touched for the first time, contour, masks, codes, PNG files.
/// @param renderer  holds the scene's mesh
/// @return  raster_s, read_back_s, occlusion_s, curvature_s; and by the processor time of all
///          threads: surface_cpu_s (raster and read-back together), occlusion_cpu_s
Json render_floors(rakelight::Renderer& renderer, const rakelight::PreparedScene& scene);

}  // namespace bench
