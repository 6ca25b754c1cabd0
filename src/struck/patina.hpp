#pragma once
// Where a dark stain stays after the high places were polished.

#include "image/plane.hpp"

namespace rakelight {

/// The surface that was stained.
struct StainedSurface {
    const Plane& height_mm;  ///< over the field
    const Plane& share;      ///< of the pixel that belongs to the piece, 0..1
    double px_per_mm;
    double recess_mm;  ///< > 0; size of the recesses that a polishing cloth does not reach
};

/// How much of the sky over each pixel is closed, 0 in the open to 1: over 16 directions, the mean
/// of sin^2 of the angle by which what lies ahead stands over the surface's own rise, but not less
/// than over the level: a slope by itself closes nothing, a wall that never ends closes a half.
Plane closed_sky(const Plane& height_mm, double px_per_mm);

/// The stain, 0 bare to 1:
///   s = t^2 (3 - 2 t),  t = (c - 0.05) / 0.4 + l, kept within 0..1
///   l = d / (d + 0.3 recess_mm) where d > 0, else d / (0.3 recess_mm);  d = mean - h
/// c being the closed sky, h the height and mean its Gaussian mean of sigma recess_mm over the
/// piece: what lies deeper than its surroundings stays dark, what stands out is polished.
/// The formula and its numbers are by eye.
/// @param closed  of the same surface
Plane stain_left(const StainedSurface& surface, const Plane& closed);

}  // namespace rakelight
