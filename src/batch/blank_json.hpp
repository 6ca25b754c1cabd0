#pragma once
// Private to batch/: a blank in JSON, as manifests and pose records have it.

#include <nlohmann/json.hpp>

#include "scene/scene.hpp"

namespace rakelight {

nlohmann::ordered_json blank_json(const BlankSettings& blank);

/// Throws nlohmann::json::exception when it is none.
BlankSettings blank_from_json(const nlohmann::ordered_json& json);

}  // namespace rakelight
