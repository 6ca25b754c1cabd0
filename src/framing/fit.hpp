#pragma once
// Private to framing/: the largest scale at which a subject's projected silhouette lies inside the
// real shape of a field, and where it lies then.

#include <vector>

#include <glm/glm.hpp>

#include "framing/blank.hpp"

namespace rakelight {

/// Where a subject may lie: the blank's shape, some way inside its outline, between two heights.
/// Convex.
struct FitArea {
    const BlankGeometry* blank = nullptr;
    double inset_mm = 0.0;
    double bottom_mm = 0.0;
    double top_mm = 0.0;

    /// Signed, negative inside; exact outside near one edge, a lower bound near two.
    double distance_mm(glm::dvec2 p) const;
    glm::dvec2 middle_mm() const { return {0.0, 0.5 * (bottom_mm + top_mm)}; }
};

/// A fit in the plane: place_mm = scale * point + offset_mm.
struct PlaneFit {
    double scale = 1.0;
    glm::dvec2 offset_mm{0.0};
};

/// The largest scale for which every point lies in the area, wherever it is moved.
/// @param points  corners of a convex hull, at least two different ones
/// Throws Error(bad_scene) when the area is empty.
double largest_scale(const std::vector<glm::dvec2>& points, const FitArea& area);

/// The same with the place: where that leaves room to move, the middle of the room. Exact to a few
/// millionths of the blank's width.
PlaneFit fit_in_plane(const std::vector<glm::dvec2>& points, const FitArea& area);

}  // namespace rakelight
