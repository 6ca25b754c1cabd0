#pragma once
// The finished relief on its blank, cut along a line.

#include <vector>

#include "framing/blank.hpp"
#include "image/plane.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// A point of the surface, above the line.
struct CutPoint {
    double along_mm = 0.0;   ///< from the line's beginning
    double height_mm = 0.0;  ///< over the field
};

/// The surface from where the line enters the piece to where it leaves it.
using CutPiece = std::vector<CutPoint>;

/// Heights at equal steps of about a pixel, at most 4000, from the four pixels around, in between
/// by straight lines; 0 beyond the picture. Where the blank stands higher, it is the blank with the
/// rounded shoulder of its rim (struck/blank_surface.hpp). A hole and what is outside of the blank
/// are left out, to within a step.
/// @param height_mm  the finished relief, mm over the field, of the pixels of `grid`
/// @param line       of two different points
std::vector<CutPiece> cut_profile(const Plane& height_mm, const BlankGeometry& blank,
                                  const ImageGrid& grid, const CutLine& line);

}  // namespace rakelight
