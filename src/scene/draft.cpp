#include "scene/draft.hpp"

#include <algorithm>

#include "error.hpp"
#include "scene/words.hpp"

namespace rakelight {

namespace {

using namespace scene_file;

/// More names than this help nobody at the top of a file.
constexpr std::size_t most_names = 40;

/// Text that may stand in a comment: control characters would end it or break the file, and bytes
/// that are not UTF-8 may stand nowhere.
std::string comment_text(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        const std::size_t valid = valid_utf8_length(text);
        for (const char c : text.substr(0, valid)) {
            const auto byte = static_cast<unsigned char>(c);
            out += byte < 0x20 || byte == 0x7f ? ' ' : c;
        }
        text.remove_prefix(valid);
        if (text.empty()) break;
        out += "\xef\xbf\xbd";  // U+FFFD, the replacement character
        text.remove_prefix(1);
    }
    return out;
}

/// A list of names in quotes, as `use` and `skip` take them, in comment lines of up to 96 columns.
std::string name_lines(const std::vector<std::string>& names) {
    constexpr std::size_t widest = 96;
    std::string out, line = "#  ";
    const std::size_t count = std::min(names.size(), most_names);
    for (std::size_t i = 0; i < count; ++i) {
        const std::string name = comment_text(toml_string(names[i])) + (i + 1 < count ? "," : "");
        if (line.size() > 3 && line.size() + 1 + name.size() > widest) {
            out += line + "\n";
            line = "#  ";
        }
        line += " " + name;
    }
    out += line + "\n";
    if (names.size() > count) {
        out += "#   and " + std::to_string(names.size() - count) +
               " more: rakelight inspect lists them.\n";
    }
    return out;
}

std::string parts_comment(const std::vector<std::string>& names) {
    if (names.empty()) return "";
    return "# Its parts:\n" + name_lines(names) +
           "# To take some of them only, name them; * and ? stand for any letters and any letter.\n"
           "#use = [" +
           comment_text(toml_string(names.front())) +
           "]\n"
           "#skip = [\"stand*\"]\n";
}

std::string up_line(const DraftFacts& facts) {
    if (facts.up.empty()) return "up = \"auto\"             # which of the file's axes is up\n";
    const std::string reason = comment_text(facts.up_reason);
    return "up = " + toml_string(facts.up) + "               # the file's axis that is up" +
           (reason.empty() ? "" : ": " + reason) + "\n";
}

std::string model_table(const DraftFacts& facts) {
    const std::string size =
        facts.size.empty() ? "" : "# It measures " + comment_text(facts.size) + ".\n";
    return "[model]\n" + size + "file = " + toml_string(facts.model_file) + "\n" + up_line(facts) +
           parts_comment(facts.part_names);
}

constexpr std::string_view opening =
    "# A first scene. Lengths are millimetres on the finished blank.\n"
    "# rakelight check says whether it is sound; rakelight render makes its pictures.\n"
    "\n"
    "[blank]\n"
    "shape = \"round\"         # round, oval, rectangle or tag\n"
    "width_mm = 38.0\n"
    "rim_mm = 1.2            # the raised edge; the flat inside it is the field\n"
    "#exergue_mm = 6.0       # keeps the foot of the field free for the date\n"
    "#hole = { diameter_mm = 3.0, from_top_mm = 3.5 }   # for a cord or a ring\n"
    "\n";

constexpr std::string_view closing =
    "\n"
    "[pose]                  # turns of the model: yaw first, then pitch, then roll\n"
    "yaw_deg = 0.0           # positive turns the front to the viewer's right\n"
    "pitch_deg = 0.0         # positive tips the top towards the viewer\n"
    "roll_deg = 0.0          # positive turns the picture counter-clockwise\n"
    "\n"
    "[framing]\n"
    "fit = \"field\"           # as large as the field (or the whole \"blank\") takes it\n"
    "margin_mm = 0.8         # kept free all around\n"
    "shift_mm = [0.0, 0.0]   # then moved to the right and up\n"
    "zoom = 1.0              # then enlarged: 1.1 is a tenth larger\n"
    "\n"
    "[image]\n"
    "px_per_mm = 40.0        # 40 gives pixels of 0.025 mm\n"
    "\n"
    "# Without any [pass] table the usual passes are made: depth, occlusion, curvature,\n"
    "# silhouette, contour, normal and blank. To choose, name them, for example:\n"
    "#[pass.depth]\n"
    "#[pass.occlusion]\n"
    "#reach_mm = 4.0         # how far around a point something may shade it\n"
    "\n"
    "# To have the passes mixed into a height map, relief.png:\n"
    "#[relief]\n"
    "#recipe = \"struck-medal\" # or \"cast-piece\", \"button\", or a file of your own\n"
    "#height_mm = 2.0        # from its lowest point to its highest\n";

}  // namespace

std::string draft_scene(const DraftFacts& facts) {
    if (valid_utf8_length(facts.model_file) != facts.model_file.size()) {
        throw Error(ExitCode::bad_model, comment_text(facts.model_file) +
                                             ": found a file name that is not UTF-8; expected one "
                                             "that a scene file can hold. Rename the file.");
    }
    return std::string(opening) + model_table(facts) + std::string(closing);
}

}  // namespace rakelight
