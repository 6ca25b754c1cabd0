#pragma once
// A model from its six sides: how much of each part is seen, which parts look as if they did not
// belong to the subject, and a picture to look at. Drawn by the processor.

#include <cstddef>
#include <string>
#include <vector>

#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// How much of what is seen one part is; shares of area, at 256 pixels a side.
struct PartSeen {
    double front_share = 0.0;  ///< from the front of the default pose
    double share = 0.0;        ///< from all six sides together
};

/// One a part of the mesh.
/// @param up  the axis that points up
std::vector<PartSeen> parts_seen(const Mesh& mesh, Axis up);

/// A part that looks like a ground plane or a dome around everything, in words and with the line of
/// a scene that leaves it out.
struct StrayPart {
    std::uint32_t part;
    std::string hint;
};

/// By the parts' boxes and vertices alone. Looks for a ground, flat, below all else and larger, and
/// for a dome, whose vertices lie on an ellipsoid, the upper half of one, or a box around all else.
std::vector<StrayPart> stray_parts(const Mesh& mesh, Axis up);

/// The bytes of an 8-bit PNG: front, right, back, left, top and foot under a low lamp, all in one
/// scale, each with the axes that point up and to the right in it.
std::vector<std::byte> turnaround_picture(const Mesh& mesh, Axis up, const std::string& title);

}  // namespace rakelight
