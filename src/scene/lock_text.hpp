#pragma once
// `rakelight lock` edits a scene file as text: only the [locked] table changes, every other byte
// stays, whatever comments, line ends and order the user keeps.

#include <string>

#include "scene/scene.hpp"

namespace rakelight {

/// The scene's text with its [locked] table written anew: replaced where one stands, appended
/// otherwise. Line ends follow the file's own. Numbers are written so that they read back to the
/// same double. Writing the same camera twice gives the same bytes. The table's header line and the
/// comments after its last key stay too. Throws Error(bad_scene) when `locked` stands there as an
/// inline table or as dotted keys, or when the text is not TOML.
/// @param text    a scene file that parse_scene accepts
/// @param camera  what to write; finite, its hashes not empty
/// @param path    the scene file, for messages only
std::string with_locked_table(const std::string& text, const LockedCamera& camera,
                              const std::filesystem::path& path = "scene file");

}  // namespace rakelight
