#pragma once
// Private to render/: which pixels a picture has to work on.

#include "render/gpu_mesh.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// The subject's box in pixels, cut to the picture and a guard around it, plus the border of one;
/// and the floor and top in view z. Conservative: from the boxes of the mesh's clusters. Narrower
/// than three pixels when the subject lies beyond the guard.
WorkArea work_area(const GpuMesh& mesh, const Camera& camera, const ImageGrid& grid, int guard_px);

}  // namespace rakelight
