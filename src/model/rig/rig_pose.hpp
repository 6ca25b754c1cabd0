#pragma once
// The pose that the settings ask for. Private to model/.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/mesh.hpp"
#include "model/rig/rig.hpp"
#include "model/rig/skinning.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// The clip of that name, or else of that number, from 1.
std::optional<std::size_t> index_of_clip(const std::string& wanted,
                                         const std::vector<std::string_view>& names);

/// A pose for each of the rig's instances. What the settings name and the file does not have is
/// passed over: see posing_fault.
/// @param facts  the rig's facts are set; warnings are added
std::vector<MeshPose> pose_rig(const Rig& rig, const PosingSettings& settings, ModelFacts& facts);

}  // namespace rakelight
