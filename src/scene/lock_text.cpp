#include "scene/lock_text.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <span>
#include <vector>

#include "error.hpp"
#include "scene/report.hpp"
#include "scene/scan.hpp"
#include "scene/toml_text.hpp"
#include "scene/words.hpp"

namespace rakelight {

namespace {

using namespace scene_file;

constexpr std::string_view comment =
    "# The camera of this picture, written by \"rakelight lock\". Delete the table to fit anew.";

std::string array_text(std::span<const double> numbers) {
    std::string out = "[";
    for (std::size_t i = 0; i < numbers.size(); ++i) {
        if (i > 0) out += ", ";
        out += toml_number(numbers[i]);
    }
    return out + "]";
}

std::string row_text(const glm::dmat3& matrix, int row) {
    const std::array<double, 3> numbers{matrix[0][row], matrix[1][row], matrix[2][row]};
    return "    " + array_text(numbers) + ",";
}

/// The lines under the header.
std::vector<std::string> body_lines(const LockedCamera& camera) {
    const std::array<double, 3> centre{camera.centre_model.x, camera.centre_model.y,
                                       camera.centre_model.z};
    const std::array<double, 2> picture{camera.picture_mm.x, camera.picture_mm.y};
    const bool parallel = camera.projection == Projection::parallel;
    return {std::string("projection = ") + (parallel ? "\"parallel\"" : "\"perspective\""),
            "model_hash = " + toml_string(camera.model_hash),
            "settings_hash = " + toml_string(camera.settings_hash),
            "view_from_model = [",
            row_text(camera.view_from_model, 0),
            row_text(camera.view_from_model, 1),
            row_text(camera.view_from_model, 2),
            "]",
            "centre_model = " + array_text(centre),
            "mm_per_unit = " + toml_number(camera.mm_per_unit),
            "picture_mm = " + array_text(picture),
            "eye_mm = " + toml_number(camera.eye_mm)};
}

std::string_view line_end_of(std::string_view text) {
    const std::size_t end = text.find('\n');
    const bool windows = end != std::string_view::npos && end > 0 && text[end - 1] == '\r';
    return windows ? "\r\n" : "\n";
}

std::string body_text(const LockedCamera& camera, std::string_view line_end) {
    std::string out;
    for (const std::string& line : body_lines(camera)) out.append(line_end).append(line);
    return out;
}

/// What stands between the brackets of a header, blanks left out: "locked", "pass.depth". Blanks
/// inside of quotes go too, which does not matter for finding one word.
std::string header_name(std::string_view line) {
    std::string name;
    for (const char c : line.substr(1, line.find(']') - 1)) {
        if (c != ' ' && c != '\t') name += c;
    }
    return name;
}

bool is_locked_header(std::string_view line) {
    constexpr std::array<std::string_view, 3> spellings{"locked", "\"locked\"", "'locked'"};
    return std::find(spellings.begin(), spellings.end(), header_name(line)) != spellings.end();
}

struct Cut {
    std::size_t begin, end;
};

/// From the end of the [locked] table's header to the end of its last key: the header keeps its own
/// spacing, and comments that follow the last key belong to what comes next.
std::optional<Cut> locked_body(std::string_view text) {
    const std::vector<Statement> all = statements(text);
    const auto header = std::find_if(all.begin(), all.end(), [text](const Statement& one) {
        return one.header && is_locked_header(text.substr(one.begin, one.end - one.begin));
    });
    if (header == all.end()) return std::nullopt;
    const auto next =
        std::find_if(header + 1, all.end(), [](const Statement& one) { return one.header; });
    return Cut{header->end, std::prev(next)->end};
}

std::string appended(const std::string& text, const std::string& body, std::string_view line_end) {
    std::string out = text;
    const bool has_text = out.size() > mark_length(out);
    const bool ends_line = has_text && out.back() == '\n';
    if (has_text && !ends_line) out += line_end;
    const std::string blank_line = "\n" + std::string(line_end);
    if (has_text && !(ends_line && out.ends_with(blank_line))) out += line_end;
    out.append(comment).append(line_end).append("[locked]").append(body).append(line_end);
    return out;
}

/// An inline table or dotted keys cannot be replaced line by line.
[[noreturn]] void throw_other_form(const Entry& locked, const Report& wording) {
    throw Error(
        ExitCode::bad_scene,
        wording.message(
            {locked.place, "[locked]", "locked as an inline table, dotted keys or an array",
             "a table with a header line [locked]", "Delete it and run rakelight lock again."}));
}

}  // namespace

std::string with_locked_table(const std::string& text, const LockedCamera& camera,
                              const std::filesystem::path& path) {
    const std::vector<Override> none;
    const Report wording(path, none);
    const Table root = parse_toml(text, -1, wording);

    const std::string_view line_end = line_end_of(text);
    const std::string body = body_text(camera, line_end);
    if (const auto cut = locked_body(text)) {
        return text.substr(0, cut->begin) + body + text.substr(cut->end);
    }
    if (const Entry* locked = find(root, "locked")) throw_other_form(*locked, wording);
    return appended(text, body, line_end);
}

}  // namespace rakelight
