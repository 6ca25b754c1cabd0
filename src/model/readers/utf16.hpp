#pragma once
// Text in UTF-16, as some programs save it, for readers that know UTF-8 alone. Private to model/.

#include <optional>
#include <string>
#include <string_view>

namespace rakelight {

/// Whether these bytes begin a text in UTF-16: with a byte order mark, and then letters of which
/// most are ASCII, as the words of every text format of models are. A binary file that begins with
/// the same two bytes has other numbers behind them.
bool begins_utf16(std::string_view bytes);

/// The text in UTF-8, without a byte order mark; empty when begins_utf16 says no. Half of a pair of
/// surrogates becomes U+FFFD (Unicode Standard, section 3.9, D93b and what follows it); a last odd
/// byte is left out.
std::optional<std::string> utf8_from_utf16(std::string_view bytes);

}  // namespace rakelight
