#pragma once
// Text from anywhere, made fit to be shown.

#include <cstddef>
#include <string>
#include <string_view>

namespace rakelight {

/// Bytes of the well-formed UTF-8 character that a text begins with (Unicode Standard, table 3-7:
/// no overlong forms, no surrogates, nothing above U+10FFFF); 0 where there is none.
std::size_t utf8_character_length(std::string_view text);

/// The text in UTF-8 with a "_" in place of each character that a terminal or a list would act on
/// and nobody could read: control characters (C0, C1, DEL), line and paragraph separators, marks
/// that turn the direction of what follows (Unicode 15, bidirectional formatting), and of each byte
/// that is no UTF-8.
std::string printable(std::string_view text);

/// The text with "_" in place of each byte that is no UTF-8, and as it is otherwise.
std::string valid_utf8(std::string_view text);

}  // namespace rakelight
