#pragma once
// Private to framing/: the points that can lie on the outline of a set of them, from wherever it is
// seen.

#include <vector>

#include <glm/glm.hpp>

namespace rakelight {

/// The points in their order, less such as lie inside the convex hull of the others by 1e-7 of the
/// set's size or more. None of those is a corner of an outline, the nearest or the farthest, in any
/// parallel view nor in any from an eye that has all points before it. Not all of those are found;
/// few points, flat sets and ones on a sphere are left as they are.
std::vector<glm::dvec3> outer_points(std::vector<glm::dvec3> points);

}  // namespace rakelight
