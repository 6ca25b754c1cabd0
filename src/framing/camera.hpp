#pragma once
// The camera: one rotation, one scale, one place on the blank. Everything after framing sees the
// model through it alone.
//
// Spaces
//   model   the file's own axes and units
//   view    mm on the blank; +x right, +y up, +z to the viewer; the subject's centre at the origin
//   blank   mm, origin in the blank's middle, +x right, +y up: the plane of the picture

#include <glm/glm.hpp>

#include "scene/scene.hpp"

namespace rakelight {

struct Camera {
    Projection projection = Projection::parallel;
    glm::dmat3 view_from_model{1.0};  ///< a rotation; the scale is apart
    glm::dvec3 centre_model{0.0};
    double mm_per_unit = 1.0;    ///< in the plane through the centre, across the view axis
    glm::dvec2 picture_mm{0.0};  ///< where the view axis meets the blank
    double eye_mm = 0.0;         ///< perspective: from the eye to the plane through the centre, > 0

    /// A point of the model in view space, mm.
    glm::dvec3 view_mm(glm::dvec3 model) const {
        return mm_per_unit * (view_from_model * (model - centre_model));
    }

    /// A point of view space on the blank, mm. Perspective: view.z < eye_mm.
    glm::dvec2 blank_mm(glm::dvec3 view) const {
        const double grow =
            projection == Projection::perspective ? eye_mm / (eye_mm - view.z) : 1.0;
        return grow * glm::dvec2(view) + picture_mm;
    }
};

/// The pixels of a picture on the blank's plane. Square pixels; pixel (i, j) has its centre at
/// left_mm + (i + 0.5) / px_per_mm, top_mm - (j + 0.5) / px_per_mm.
struct ImageGrid {
    int width = 0;
    int height = 0;
    double px_per_mm = 1.0;
    double left_mm = 0.0;
    double top_mm = 0.0;

    glm::dvec2 centre_of(int x, int y) const {
        return {left_mm + (x + 0.5) / px_per_mm, top_mm - (y + 0.5) / px_per_mm};
    }
};

/// A rectangle of pixels; may lie partly outside the picture.
struct PixelRect {
    int x = 0;
    int y = 0;
    int width = 0;
    int height = 0;
};

}  // namespace rakelight
