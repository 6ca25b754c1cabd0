#pragma once
// The blank's shape in the plane of the picture: outline, rim, field, hole. Millimetres, origin in
// the blank's middle, +x right, +y up. Every shape is convex and mirror-symmetric about x = 0.

#include <glm/glm.hpp>

#include "framing/camera.hpp"
#include "scene/scene.hpp"

namespace rakelight {

class BlankGeometry {
public:
    explicit BlankGeometry(const BlankSettings& settings);

    const BlankSettings& settings() const { return settings_; }
    glm::dvec2 size_mm() const { return 2.0 * half_; }
    /// The field's own bounding box: the blank's less the rim on every side.
    glm::dvec2 field_size_mm() const { return 2.0 * (half_ - settings_.rim_mm); }
    double field_shorter_side_mm() const;
    /// Of the rim's top over the field: the scene's, else 0.45 of its width (by eye; common
    /// practice on a tag: 0.5 mm for 1.2).
    double rim_height_mm() const;

    /// Signed distance to the blank's outer edge, negative inside. Exact for every shape.
    double outline_distance_mm(glm::dvec2 p) const;
    /// Signed distance to the field's edge: the field is what lies at least rim_mm inside.
    double field_distance_mm(glm::dvec2 p) const {
        return outline_distance_mm(p) + settings_.rim_mm;
    }
    /// The unit normal of the outer edge, outward, at its point nearest to p; where several are
    /// equally near, at one of them.
    glm::dvec2 outline_normal(glm::dvec2 p) const;
    /// How far the blank reaches in a direction: max of n . p over it. @param n  a unit vector
    double outline_support_mm(glm::dvec2 n) const;
    /// Half of the chord at height y of the shape `inset_mm` inside the outline; 0 beyond it.
    double half_chord_mm(double y, double inset_mm) const;

    bool has_hole() const { return settings_.hole.has_value(); }
    glm::dvec2 hole_centre_mm() const;
    /// Half of the hole's chord at height y; 0 where there is none.
    double hole_half_chord_mm(double y) const;
    /// Height of the line under which the exergue lies.
    double exergue_line_mm() const;

private:
    BlankSettings settings_;
    glm::dvec2 half_;         // half of the sides
    double corner_mm_ = 0.0;  // radius of the corners; unused for an oval
};

/// The pixels that a scene's pictures cover, the blank's middle in the middle of them.
/// Throws Error(bad_scene) when that is no pixel at all or more than 2^31.
ImageGrid make_grid(const BlankGeometry& blank, const ImageSettings& image);

}  // namespace rakelight
