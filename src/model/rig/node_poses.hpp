#pragma once
// Where the nodes of a model stand: as the file has them, or at a time of a clip. Private to
// model/.

#include <vector>

#include <glm/glm.hpp>

#include "model/rig/rig.hpp"

namespace rakelight {

/// @param clip    null: as the file stands
/// @param time_s  of the clip; outside of it the nearest key counts
/// @return for every node of the rig, model_from_node
std::vector<glm::dmat4> pose_nodes(const Rig& rig, const Clip* clip, double time_s);

}  // namespace rakelight
