#pragma once
// The poses that a command line names.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "poses/sweep.hpp"
#include "scene/scene.hpp"

namespace CLI {
class App;
}

namespace rakelight {

/// --yaw, --pitch, --roll, --view, --zoom: each empty when it was not given.
struct PoseRanges {
    std::string yaw, pitch, roll, view, zoom;
    bool any() const;
};
void add_pose_ranges(CLI::App& command, PoseRanges& ranges);

/// "30", "0,15,30" or "-60..60/20" (from, to, step) as a scene file's value.
/// @param option  for the message: "--yaw"
/// Throws Error(wrong_use).
std::string toml_values(std::string_view option, const std::string& text);

/// The overrides that put the ranges in the place of the scene's [poses].
std::vector<Override> pose_overrides(const PoseRanges& ranges);

/// "2/5". Throws Error(wrong_use).
Shard parse_shard(const std::string& text);

}  // namespace rakelight
