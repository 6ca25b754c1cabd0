#pragma once
// Private to framing/: the convex hull of a projected model. Blanks and fields are convex, so that
// a subject lies inside one exactly when its hull does.

#include <cstddef>
#include <vector>

#include <glm/glm.hpp>

namespace rakelight {

/// A corner of the hull and the point it came from.
struct HullCorner {
    glm::dvec2 place;
    std::size_t source;
};

/// The corners in counter-clockwise order, collinear points left out (Andrew 1979, "Another
/// efficient algorithm for convex hulls in two dimensions"). One corner for one point, two for a
/// line.
/// @param places  at least one point
std::vector<HullCorner> convex_hull(const std::vector<glm::dvec2>& places);

}  // namespace rakelight
