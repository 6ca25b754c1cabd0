#pragma once
// `--set key=value` on a scene's tree, before anything is checked.

#include <vector>

#include "scene/node.hpp"
#include "scene/report.hpp"
#include "scene/scene.hpp"

namespace rakelight::scene_file {

/// Puts each override's value into the tree, in order; tables that are missing are made.
/// Throws Error(wrong_use) when a key or a value cannot be read at all. An override that leads
/// through something that is no table is reported as a fault, and nothing changes.
void apply_overrides(Table& root, const std::vector<Override>& overrides, Report& report);

}  // namespace rakelight::scene_file
