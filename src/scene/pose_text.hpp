#pragma once
// The edit that takes a pose over into a scene file: every byte that it does not concern stays.

#include <filesystem>
#include <string>

#include "scene/scene.hpp"

namespace rakelight {

/// Puts the candidate's angles into [pose], and its zoom into [framing]. A value that stands there
/// already stays as it is written; comments stay; keys that are missing are added at the end of
/// their table, a table that is missing at the end of the file.
/// @param text   the scene file's, sound
/// @param scene  what the text says
/// @param path   for messages
/// Throws Error(bad_scene) when a table is not written with a header line of its own.
std::string with_pose(const std::string& text, const Scene& scene, const PoseCandidate& candidate,
                      const std::filesystem::path& path);

}  // namespace rakelight
