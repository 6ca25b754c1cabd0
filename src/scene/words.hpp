#pragma once
// Small pieces of text: numbers and strings as TOML writes them, lists and near misses as messages
// say them.

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace rakelight::scene_file {

/// The shortest decimal that reads back to the same double: "38", "0.1", "1e+22", "inf". The same
/// in every locale.
std::string number_text(double number);

/// As number_text, but always a TOML float: "38.0", "-0.0". (As the whole number -0 TOML would
/// drop the sign.)
std::string toml_number(double number);

/// A TOML basic string with its quotes: escapes quotes, backslashes and control characters.
/// @param text  UTF-8
std::string toml_string(std::string_view text);

/// as toml_string, for messages: cut after 60 characters, so that no file can flood a terminal.
std::string shown(std::string_view text);

/// A key as TOML writes it: bare where it can be, quoted otherwise; cut as `shown` does.
std::string key_text(std::string_view key);

/// `"a", "b" or "c"`, each word between `quote` characters.
std::string either(std::span<const std::string_view> words, std::string_view quote);

/// "1 value", "3 values".
std::string counted(std::size_t count, std::string_view noun);

/// The offset of the first byte that is not part of valid UTF-8 (no overlong forms, no surrogates,
/// nothing above U+10FFFF), or the text's length.
std::size_t valid_utf8_length(std::string_view text);

/// The known word that `word` was probably meant to be: one that begins with it ("width" for
/// "width_mm"; three letters at least), else the one with the fewest edits (a letter put in, left
/// out, replaced, or two neighbours swapped; case does not count) if these are no more than a third
/// of its length. Empty when nothing is near.
std::optional<std::string_view> nearest(std::string_view word,
                                        std::span<const std::string_view> known);

}  // namespace rakelight::scene_file
