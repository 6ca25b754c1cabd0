#pragma once
// Private to framing/: what a camera sees of points in view axes.

#include <vector>

#include <glm/glm.hpp>

#include "framing/outline_hull.hpp"

namespace rakelight {

/// The z of the points nearest to the viewer and farthest away.
struct DepthRange {
    double near;
    double far;
};
/// @param points  in view axes, at least one
DepthRange depth_range(const std::vector<glm::dvec3>& points);

/// The outline of points in view axes as the camera sees it: Camera::blank_mm without the place of
/// the picture. Two corners or more.
/// @param scale   mm per unit of the points
/// @param eye_mm  from the eye to the plane z = 0; 0: parallel projection
/// Throws Error(unusable_picture) when it is a single point.
std::vector<HullCorner> projected_hull(const std::vector<glm::dvec3>& points, double scale,
                                       double eye_mm);

}  // namespace rakelight
