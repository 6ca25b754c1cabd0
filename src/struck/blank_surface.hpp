#pragma once
// The surface of a blank, as pictures that are made to be looked at show it.

#include "framing/blank.hpp"
#include "image/lamps.hpp"

namespace rakelight {

/// A flat field inside a rim with rounded shoulders; a chamfer around the hole. All by eye: a scene
/// has no word for these edges.
class BlankSurface {
public:
    explicit BlankSurface(const BlankSettings& settings);

    struct Point {
        Direction normal{0.0F, 0.0F, 1.0F};
        float height_mm = 0.0F;  ///< over the field
    };
    /// @param p  mm, from the blank's middle
    /// @param flat_half_mm  of the height p.y, so that the outline is not asked where it is far
    Point at(glm::dvec2 p, double flat_half_mm = 0.0) const;
    /// At height y all between minus and plus this is level field, but for the hole.
    double flat_half_mm(double y) const { return geometry_.half_chord_mm(y, flat_inside_mm_); }

private:
    bool near_the_hole(glm::dvec2 p, Point& point) const;

    BlankGeometry geometry_;
    double shoulder_mm_;
    double rim_height_mm_;
    double chamfer_mm_ = 0.0;
    double hole_radius_mm_ = 0.0;
    double flat_inside_mm_;  ///< deeper inside the outline than this, the blank is its field
};

}  // namespace rakelight
