#pragma once
// Private to relief/: the passes' physical values as 0 to 1.

#include "relief/recipe.hpp"

namespace rakelight {

/// The lowest of what counts to 0, its highest to 1; what is level is 0.
Plane spread_over_range(const Plane& height_mm, const Plane& counts, double px_per_mm);

/// The subject's lowest to 0, its highest to 1; a level one is 0.
Plane spread_depth(const ReliefPlanes& planes, double px_per_mm);

/// 0.5 is flat, and 99 % of the subject's pixels lie within 0..1; the others are cut off.
Plane spread_curvature(const ReliefPlanes& planes);

/// The widest gap becomes 1.
Plane spread_undercut(const ReliefPlanes& planes);

}  // namespace rakelight
