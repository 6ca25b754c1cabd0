#pragma once
// Private to poses/: how much picture a model's surface would cover if nothing hid anything.

#include <vector>

#include "framing/camera.hpp"
#include "model/mesh.hpp"

namespace rakelight {

/// Areas on the blank of a model's triangles, each for itself, whether another hides it or not.
struct FacingArea {
    double front_mm2 = 0.0;  ///< of those that face the viewer, by their winding
    double back_mm2 = 0.0;   ///< of those that face away

    /// The surface that faces the viewer. On a closed solid both sums are one. Of open sheets
    /// either side may be seen, whichever way they are wound: what the larger sum has over the
    /// smaller has no counterpart behind or before it, so it is sheets.
    double surface_mm2() const { return front_mm2 > back_mm2 ? front_mm2 : back_mm2; }
};

/// Exact but for rounding, in both projections. The sums are the same for any number of threads.
/// @param used   one flag per part
/// @param frame  null: all of the subject lies in the picture; else only what lies in it counts
FacingArea facing_area(const Mesh& mesh, const std::vector<bool>& used, const Camera& camera,
                       const ImageGrid* frame);

}  // namespace rakelight
