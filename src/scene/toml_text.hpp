#pragma once
// The only door to the TOML parser. Its headers are heavy; no other file includes them.

#include <string_view>

#include "scene/node.hpp"
#include "scene/report.hpp"

namespace rakelight::scene_file {

/// TOML text to a tree. A byte order mark at the start is skipped.
/// @param text            at most most_scene_bytes
/// @param override_index  -1: places are line and column; otherwise the text is that override's,
/// and
///                        so is every place
/// @param report          only for the wording
/// Throws Error(bad_scene) when the text is not TOML or not UTF-8.
Table parse_toml(std::string_view text, int override_index, const Report& report);

}  // namespace rakelight::scene_file
