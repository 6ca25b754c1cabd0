#include "scene/table_text.hpp"

#include <algorithm>

namespace rakelight::scene_file {

namespace {

/// What stands between the brackets of a header, blanks left out: "locked", "pass.depth". Blanks
/// inside of quotes go too, which does not matter for finding one word.
std::string header_name(std::string_view line) {
    std::string name;
    for (const char c : line.substr(1, line.find(']') - 1)) {
        if (c != ' ' && c != '\t') name += c;
    }
    return name;
}

bool is_header_of(std::string_view line, std::string_view table) {
    const std::string name = header_name(line);
    const std::string bare(table);
    return name == bare || name == "\"" + bare + "\"" || name == "'" + bare + "'";
}

}  // namespace

std::string_view line_end_of(std::string_view text) {
    const std::size_t end = text.find('\n');
    const bool windows = end != std::string_view::npos && end > 0 && text[end - 1] == '\r';
    return windows ? "\r\n" : "\n";
}

std::optional<TableLines> find_table_lines(std::string_view text, std::string_view name) {
    const std::vector<Statement> all = statements(text);
    const auto header = std::find_if(all.begin(), all.end(), [&](const Statement& one) {
        return one.header && is_header_of(text.substr(one.begin, one.end - one.begin), name);
    });
    if (header == all.end()) return std::nullopt;
    const auto next =
        std::find_if(header + 1, all.end(), [](const Statement& one) { return one.header; });
    return TableLines{*header, {header + 1, next}, std::prev(next)->end};
}

std::string with_table_at_end(const std::string& text, std::string_view table) {
    const std::string_view line_end = line_end_of(text);
    std::string out = text;
    const bool has_text = out.size() > mark_length(out);
    const bool ends_line = has_text && out.back() == '\n';
    if (has_text && !ends_line) out += line_end;
    const std::string blank_line = "\n" + std::string(line_end);
    if (has_text && !(ends_line && out.ends_with(blank_line))) out += line_end;
    return out.append(table).append(line_end);
}

}  // namespace rakelight::scene_file
