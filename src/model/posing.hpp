#pragma once
// Which moment of a model that can move is asked for, against what its file has.

#include <string>

#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// What of the settings the file does not have: "clip: found ..., expected ...", with the nearest
/// name that it does; empty when it has all.
std::string posing_fault(const PosingSettings& posing, const RigFacts& rig);

}  // namespace rakelight
