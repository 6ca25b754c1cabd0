#pragma once
// Private to scene/: where the tables of a scene file's text begin and end, for edits that leave
// every other byte alone.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "scene/scan.hpp"

namespace rakelight::scene_file {

/// "\r\n" where the text's first line ends so, else "\n".
std::string_view line_end_of(std::string_view text);

/// A table with a header line of its own.
struct TableLines {
    Statement header;
    std::vector<Statement> keys;
    /// Of its last key, or of the header: comments that follow belong to what comes next.
    std::size_t end = 0;
};

/// @param name  of a table of the file itself
std::optional<TableLines> find_table_lines(std::string_view text, std::string_view name);

/// The text with a table at its end, an empty line before it.
/// @param table  from its comment or header on, without a line end at the end
std::string with_table_at_end(const std::string& text, std::string_view table);

}  // namespace rakelight::scene_file
