#pragma once
// Private to render/: which pixels a picture has to work on.

#include "render/clusters.hpp"
#include "render/renderer.hpp"
#include "render/walk.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// The subject's box in pixels, cut to the picture and a guard around it, plus the border of one;
/// and the floor and top in view z. Conservative: from the boxes of the mesh's clusters. Narrower
/// than three pixels when the subject lies beyond the guard.
WorkArea work_area(const std::vector<Cluster>& clusters, const Camera& camera,
                   const ImageGrid& grid, int guard_px);

/// The work area of a picture, with the guard that its passes need.
WorkArea area_of(const RenderRequest& request, const std::vector<Cluster>& clusters);

/// Where occlusion looks in a picture that asks for it: as far as its reach spans on the nearest
/// surface.
OcclusionWalk walk_of(const RenderRequest& request, const WorkArea& area);

}  // namespace rakelight
