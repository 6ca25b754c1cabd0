#pragma once
// What a recipe makes values from beside the passes, as planes of the picture's size.

#include "framing/blank.hpp"
#include "image/plane.hpp"
#include "model/grey_picture.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

struct SourcePlane {
    Plane value;  ///< 0..1
    Plane share;  ///< of the pixel that has a value; empty: all of every one
};

/// Shapes, gradients and regions, which are those of blank_masks. A pixel of a shape's edge has its
/// share, by the distance of its middle; across a soft edge the value falls evenly over soft_mm.
/// Distances to an ellipse's edge are exact.
SourcePlane drawn_source(const NamedSource& source, const BlankGeometry& blank,
                         const ImageGrid& grid);

/// A picture of `width_mm`, or as wide as the whole picture, turned about its middle, which lies at
/// centre_mm. Nothing outside it; what is transparent has no value either. Made smaller by area
/// means, larger linearly between the middles of its pixels.
/// @param source  of an ImageSource
SourcePlane placed_picture(const GreyPicture& picture, const NamedSource& source,
                           const ImageGrid& grid);

/// Heights in mm, where there is a share, become 0 at the lowest and 1 at the highest.
void spread_heights(SourcePlane& heights_mm, double px_per_mm);

}  // namespace rakelight
