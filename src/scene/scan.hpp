#pragma once
// A light walk over TOML text: strings, comments and brackets, and nothing of what they mean. It
// guards the parser against what it is not built for, and finds whole statements for edits that
// must leave every other byte alone.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "scene/node.hpp"

namespace rakelight::scene_file {

/// A table header or a `key = value`, with all the lines that it takes. Comments and empty lines
/// between statements belong to none.
struct Statement {
    std::size_t begin = 0;  ///< offset of its first character
    std::size_t end = 0;    ///< offset of the end of its last line, the line end left out
    bool header = false;
};

/// All statements in the file's order. On text that is not TOML the result is of no use, but the
/// walk ends.
std::vector<Statement> statements(std::string_view text);

struct TextFault {
    Place place;
    std::string found;
    std::string expected;
    std::string hint;
};

/// The first thing in the text that the parser must not meet:
/// - bytes that are not UTF-8;
/// - a character beyond ASCII outside strings and comments (mostly curly quotes pasted from a word
///   processor), where the parser's own check has undefined behaviour;
/// - a dotted key of more than 16 parts: the parser builds a table for each and has no limit, so
///   that a long one overruns the stack.
std::optional<TextFault> first_text_fault(std::string_view text);

/// Line and column of an offset; columns count characters, a byte order mark counts nothing.
Place place_of(std::string_view text, std::size_t offset);

/// Length of the UTF-8 byte order mark at the start of the text: 3 or 0.
std::size_t mark_length(std::string_view text);

}  // namespace rakelight::scene_file
