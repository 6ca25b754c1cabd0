#pragma once
// Sound text that the importer stumbles over. Private to model/.

#include <optional>
#include <string>
#include <string_view>

namespace rakelight {

/// The text as the importer takes it, where that costs nothing of the surface:
/// - COLLADA: blanks before a colour's numbers are left out (XML Schema: a list's blanks do not
///   count);
/// - OpenGEX: colours are left out: it wants four numbers where the specification allows three.
/// Empty when there is nothing to mend.
/// @param extension  of the file, small letters, with the dot
std::optional<std::string> mended_text(std::string_view extension, const std::string& text);

}  // namespace rakelight
