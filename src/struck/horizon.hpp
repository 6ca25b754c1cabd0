#pragma once
// How high the land stands in one direction: what shades a point, and what closes its sky.

#include "image/plane.hpp"

namespace rakelight {

/// What steepest_ahead gives where nothing lies ahead.
inline constexpr float nothing_ahead = -1e9F;

/// For each pixel the steepest way up, mm of height for a mm of the picture, from it to any other
/// point that lies ahead of it; negative where all of them are lower. Exact along parallel lines
/// one pixel apart, each crossing the rows or columns at heights between two pixels: the upper hull
/// of what has been passed is kept, as in Timonen and Westerholm 2010 ("Scalable Height Field
/// Self-Shadowing", Computer Graphics Forum 29).
/// @param height_mm      rows from the top
/// @param px_per_mm      > 0
/// @param direction_deg  ahead, counter-clockwise from the right
Plane steepest_ahead(const Plane& height_mm, double px_per_mm, double direction_deg);

/// The share of a lamp's light that each pixel gets, 1 in the open, 0 in the shadow that something
/// casts. The lamp is a disc: from 3 degrees below its middle (half of its height if that is less)
/// to as much above, its light goes, so that a shadow is the softer the farther it falls. Half is
/// left where a shadow of a lamp without size would end.
Plane lit_share(const Plane& height_mm, double px_per_mm, double lamp_deg, double lamp_height_deg);

}  // namespace rakelight
