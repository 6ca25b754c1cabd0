#pragma once
// How deep inside the silhouette a point lies.

#include "image/plane.hpp"

namespace rakelight {

/// For each pixel that the subject covers, the distance in px from its middle to the silhouette's
/// outline; 0 elsewhere, and infinity where there is no outline at all. The picture's border is no
/// outline.
/// Nearest pixels that are not wholly covered by the exact transform of Felzenszwalb and
/// Huttenlocher 2012 ("Distance Transforms of Sampled Functions", Theory of Computing 8), moved to
/// where their coverage says the outline lies as Gustavson and Strand 2011 do ("Anti-aliased
/// Euclidean distance transform", Pattern Recognition Letters 32), an outline being taken to lie
/// square to the way: within 0.25 px of a straight one.
/// @param coverage  share of the pixel that the subject covers
Plane edge_distance_px(const Plane& coverage);

}  // namespace rakelight
