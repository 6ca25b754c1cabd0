#pragma once
// Private to framing/: the points of a model that a picture shows, and their outline.

#include <vector>

#include <glm/glm.hpp>

#include "framing/outline_hull.hpp"
#include "model/mesh.hpp"

namespace rakelight {

/// The points of the parts in use and the middle of their bounding box, in the file's own axes and
/// units.
struct Subject {
    glm::dvec3 centre{0.0};
    std::vector<glm::dvec3> points;
};

/// @param used  one flag per part, at least one of them set
Subject subject_of(const Mesh& mesh, const std::vector<bool>& used);

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
