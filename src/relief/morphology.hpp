#pragma once
// Grey-scale openings and closings: what a tool of some width leaves of a height map.

#include <optional>

#include "image/plane.hpp"

namespace rakelight {

/// The height beyond the picture; empty: nothing is known of it, and it limits nothing.
using HeightBeyond = std::optional<float>;

/// The opening by a flat disc: at each pixel the highest level h at which a disc that covers the
/// pixel lies wholly on ground of h or more. It never rises above the map, opening again changes
/// nothing, and a plane of any slope stays as it is. What is lost are ridges narrower than the
/// disc.
///
/// Erosion and dilation after Sternberg 1986 ("Grayscale Morphology", Computer Vision, Graphics,
/// and Image Processing 35); the disc as chords, each of two runs of a power of two, as Urbach and
/// Wilkinson 2008 do ("Efficient 2-D Grayscale Morphological Transformations With Arbitrary Flat
/// Structuring Elements", IEEE Transactions on Image Processing 17), both from memory. For each
/// pixel about 4 diameters of comparisons.
/// The disc on the grid is as wide as disc_px rounded: the pixels whose middle lies within disc_px
/// / 2 of its own, which is that of a pixel or of a corner. Below 1.5 it is one pixel, and the map
/// stays.
/// @param disc_px  > 0
Plane opened(const Plane& heights, double disc_px, HeightBeyond beyond);

/// The closing by a flat disc, the same upside down: what a cutter with a flat tip leaves.
Plane closed(const Plane& heights, double disc_px, HeightBeyond beyond);

/// The closing by a ball that rolls over the map from above: what a cutter with a ball for a tip
/// leaves, whose middle is over the middle of each pixel in turn. It never lies below the map, and
/// a plane stays as it is. Sternberg 1986, as above. For each pixel up to 1.6 squared diameters of
/// sums; only as far out as the ball can touch, so that shallow ground costs little.
/// @param ball_mm  diameter, > 0
Plane closed_by_ball(const Plane& heights_mm, double ball_mm, double px_per_mm,
                     HeightBeyond beyond);

}  // namespace rakelight
