#pragma once
// The only door to the TOML parser. Its headers are heavy; no other file includes them.

#include <string_view>

#include "scene/node.hpp"
#include "scene/report.hpp"

namespace rakelight::scene_file {

/// TOML text to a tree. A byte order mark at the start is skipped.
/// @param text    at most most_scene_bytes
/// @param origin  of an override: every place is this one; else places are line and column in the
///                file that it says
/// @param report  only for the wording
/// Throws Error(bad_scene) when the text is not TOML or not UTF-8.
Table parse_toml(std::string_view text, const Place& origin, const Report& report);

}  // namespace rakelight::scene_file
