#pragma once
// Where occlusion looks: a table of whole-pixel offsets, the same for every pixel.

#include <vector>

#include <glm/glm.hpp>

namespace rakelight {

/// One azimuth that occlusion looks along, to both sides.
struct Slice {
    glm::ivec2 step_px;      ///< smallest whole-pixel vector along it, x right, y up
    double weight = 0.0;     ///< quadrature weight; all weights sum to 1
    glm::ivec2 across_px{};  ///< from a tap's first pixel to its second
    int tap_count = 0;       ///< how many of the walk's taps lie on it
};

/// A place on a slice, as the mix of two neighbouring pixels that lies exactly on it.
struct SliceTap {
    glm::ivec2 first_px;  ///< x right, y up
    double share = 0.0;   ///< of the second pixel, first_px + across_px; 0: the first alone
    double distance_px = 0.0;
};

struct OcclusionWalk {
    std::vector<Slice> slices;
    std::vector<SliceTap> taps;  ///< slice by slice, outwards
    int reach_px = 0;            ///< farthest pixel looked at, along an axis
};

/// What the uniform block of shaders/occlusion.frag holds.
inline constexpr int max_walk_taps = 1000;

/// Twelve slices in rational directions, so that taps need at most two pixels and a tilted plane
/// occludes itself nowhere; weights integrate cos(4 phi), cos(8 phi) and cos(12 phi) exactly. Taps
/// go pixel by pixel first, then by a constant ratio up to the reach; where they start differs
/// among neighbouring slices, so that the places where a wall is caught do not line up.
/// @param reach_px  > 0: the reach on the nearest surface, in pixels
OcclusionWalk make_occlusion_walk(double reach_px);

}  // namespace rakelight
