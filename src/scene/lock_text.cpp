#include "scene/lock_text.hpp"

#include <array>
#include <span>
#include <vector>

#include "error.hpp"
#include "scene/report.hpp"
#include "scene/table_text.hpp"
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

std::string body_text(const LockedCamera& camera, std::string_view line_end) {
    std::string out;
    for (const std::string& line : body_lines(camera)) out.append(line_end).append(line);
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
    const Table root = parse_toml(text, {}, wording);

    const std::string_view line_end = line_end_of(text);
    const std::string body = body_text(camera, line_end);
    if (const auto table = find_table_lines(text, "locked")) {
        // From the header's end: the header keeps its own spacing.
        return text.substr(0, table->header.end) + body + text.substr(table->end);
    }
    if (const Entry* locked = find(root, "locked")) throw_other_form(*locked, wording);
    return with_table_at_end(text,
                             std::string(comment) + std::string(line_end) + "[locked]" + body);
}

}  // namespace rakelight
