#pragma once
// `rakelight lock` edits a scene file as text: only the [locked] table changes, every other byte
// stays, whatever comments, line ends and order the user keeps.

#include <string>

#include "scene/scene.hpp"

namespace rakelight {

/// The scene's text with its [locked] table written anew: replaced where one stands, appended
/// otherwise. Line ends follow the file's own. Numbers are written so that they read back to the
/// same double. Writing the same camera twice gives the same bytes.
/// @param text    a scene file that parse_scene accepts
/// @param camera  what to write
std::string with_locked_table(const std::string& text, const LockedCamera& camera);

}  // namespace rakelight
