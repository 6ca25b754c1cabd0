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

    glm::dvec2 middle_mm() const { return {0.0, 0.5 * (bottom_mm + top_mm)}; }
};

/// A fit in the plane: place_mm = scale * point + offset_mm.
struct PlaneFit {
    double scale = 1.0;
    glm::dvec2 offset_mm{0.0};
};

/// The share of its size by which a fitted subject stays smaller than the largest that fits, so
/// that its room to move is more than rounding.
constexpr double fit_slack = 1e-7;

/// The largest scale for which every point lies in the area, wherever it is moved; too large by at
/// most about 1e-9 of itself.
/// @param points  corners of a convex hull, at least two different ones
/// Throws Error(bad_scene) when the area is empty.
double largest_scale(const std::vector<glm::dvec2>& points, const FitArea& area);

/// The middle of the offsets for which every scale * point + offset lies in the area: halfway
/// between the outermost on x, then on y.
/// @param scale  below largest_scale by fit_slack or more
glm::dvec2 centred_offset_mm(const std::vector<glm::dvec2>& points, const FitArea& area,
                             double scale);

/// Both: the largest scale less fit_slack, and the middle of the room that is left.
PlaneFit fit_in_plane(const std::vector<glm::dvec2>& points, const FitArea& area);

}  // namespace rakelight
