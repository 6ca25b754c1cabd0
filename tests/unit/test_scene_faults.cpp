// Every fault of a scene file has its message: where, what was found, what was expected.

#include <fstream>

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

/// A fault, planted on line 1 or 2 of a scene that is complete otherwise.
struct Case {
    std::string table;  ///< its header
    std::string line;   ///< stands on line 2
    int column;         ///< of the fault on line 2; 0: it is shown at the header, line 1
    std::string label;
    std::vector<std::string> words;
};

std::string scene_with(const Case& one) {
    std::string text = one.table + "\n" + one.line + "\n";
    if (one.table != "[blank]") text += "[blank]\n";
    if (one.table != "[model]") text += "[model]\nfile = \"ammonite.ply\"\n";
    return text;
}

void check_all(const std::vector<Case>& cases) {
    for (const Case& one : cases) {
        CAPTURE(one.table);
        CAPTURE(one.line);
        const std::string message = fault_of(scene_with(one));
        const std::string place = one.column == 0 ? "1:1" : "2:" + std::to_string(one.column);
        const std::string start = "medal.toml:" + place + ": " + one.label + ": found ";
        CHECK(message.substr(0, start.size()) == start);
        CHECK(contains(message, "; expected "));
        for (const std::string& word : one.words) {
            CAPTURE(word);
            CAPTURE(message);
            CHECK(contains(message, word));
        }
    }
}

}  // namespace

TEST_CASE("faults: [blank]") {
    check_all({
        {"[blank]",
         "shape = \"rond\"",
         9,
         "[blank] shape",
         {"\"rond\"", "\"round\", \"oval\", \"rectangle\" or \"tag\"", "Did you mean \"round\"?"}},
        {"[blank]", "shape = 3", 9, "[blank] shape", {"found 3"}},
        {"[blank]",
         "width_mm = \"38\"",
         12,
         "[blank] width_mm",
         {"the text \"38\"", "a number above 0 and at most 2000, in mm", "Take the quotes away."}},
        {"[blank]", "width_mm = \"wide\"", 12, "[blank] width_mm", {"the text \"wide\""}},
        {"[blank]", "width_mm = 0", 12, "[blank] width_mm", {"found 0;"}},
        {"[blank]", "width_mm = -38.5", 12, "[blank] width_mm", {"found -38.5"}},
        {"[blank]", "width_mm = 2000.5", 12, "[blank] width_mm", {"found 2000.5"}},
        {"[blank]", "width_mm = nan", 12, "[blank] width_mm", {"nan", "a finite number"}},
        {"[blank]", "width_mm = +inf", 12, "[blank] width_mm", {"inf", "a finite number"}},
        {"[blank]", "width_mm = true", 12, "[blank] width_mm", {"found true"}},
        {"[blank]", "width_mm = 1979-05-27", 12, "[blank] width_mm", {"a date or time"}},
        {"[blank]", "width_mm = [38]", 12, "[blank] width_mm", {"an array of 1 value"}},
        {"[blank]", "width_mm = {}", 12, "[blank] width_mm", {"a table"}},
        {"[blank]",
         "height_mm = 40",
         13,
         "[blank] height_mm",
         {"a height of 40", "width 38", "shape = \"oval\""}},
        {"[blank]", "shape = \"oval\"", 0, "[blank] height_mm", {"nothing", "height_mm = 50.0"}},
        {"[blank]", "shape = \"tag\"", 0, "[blank] height_mm", {"nothing"}},
        {"[blank]",
         "corner_radius_mm = 2",
         20,
         "[blank] corner_radius_mm",
         {"without corners", "rectangle"}},
        {"[blank]", "corner_radius_mm = -1", 20, "[blank] corner_radius_mm", {"from 0 to 2000"}},
        {"[blank]",
         "rim_mm = 19.0",
         10,
         "[blank] rim_mm",
         {"a rim of 19 mm", "38 x 38 mm", "less than half", "a field remains"}},
        {"[blank]", "rim_mm = -0.1", 10, "[blank] rim_mm", {"-0.1", "from 0 to 2000, in mm"}},
        {"[blank]",
         "exergue_mm = 38.0",
         14,
         "[blank] exergue_mm",
         {"an exergue of 38 mm", "38 mm high", "less than the field's height"}},
        {"[blank]", "hole = 3.0", 8, "[blank] hole", {"found 3.0", "a table"}},
        {"[blank]",
         "hole = { diameter = 3 }",
         10,
         "[blank.hole] diameter",
         {"an unknown key", "Did you mean diameter_mm?"}},
        {"[blank]", "hole = { diameter_mm = 0 }", 24, "[blank.hole] diameter_mm", {"above 0"}},
        {"[blank]",
         "hole = { from_top_mm = 1.5 }",
         24,
         "[blank.hole] from_top_mm",
         {"a hole of 3 mm", "1.5 mm below the top", "wholly inside"}},
        {"[blank]",
         "hole = { diameter_mm = 5.0 }",
         24,
         "[blank.hole] diameter_mm",
         {"a hole of 5 mm"}},
        {"[blank]", "hole = { from_top_mm = 36.5 }", 24, "[blank.hole] from_top_mm", {"inside"}},
        {"[blank]",
         "widht_mm = 38",
         1,
         "[blank] widht_mm",
         {"an unknown key", "a key of [blank]", "Did you mean width_mm?"}},
        {"[blank]", "width = 38", 1, "[blank] width", {"Did you mean width_mm?"}},
        {"[blank]",
         "colour = 38",
         1,
         "[blank] colour",
         {"corner_radius_mm, rim_mm, rim_height_mm, exergue_mm or hole"}},
        {"[blank]", "\"a b\" = 38", 1, "[blank] \"a b\"", {"an unknown key"}},
    });
}

TEST_CASE("faults: [model] and [output]") {
    check_all({
        {"[model]", "up = \"+y\"", 0, "[model] file", {"nothing", "file = \"ammonite.ply\""}},
        {"[model]", "file = \"\"", 8, "[model] file", {"an empty text", "a text in quotes"}},
        {"[model]", "file = 3", 8, "[model] file", {"found 3"}},
        {"[model]", "file = \"a\\u0000b\"", 8, "[model] file", {"a control character", "\\u0000"}},
        {"[model]", "fiel = \"a.ply\"", 1, "[model] fiel", {"Did you mean file?"}},
        {"[model]", "up = \"y\"", 6, "[model] up", {"\"y\"", "\"auto\", \"+x\", \"-x\""}},
        {"[model]", "front = 1", 9, "[model] front", {"found 1"}},
        {"[model]", "unit = \"inch\"", 8, "[model] unit", {"\"auto\", \"mm\", \"cm\", \"m\" or"}},
        {"[model]", "use = \"shell\"", 7, "[model] use", {"an array of texts"}},
        {"[model]", "use = [\"shell\", 3]", 17, "[model] use", {"found 3"}},
        {"[model]", "skip = [\"\"]", 9, "[model] skip", {"an empty text"}},
        {"[model]", "normals = \"smooth\"", 11, "[model] normals", {"\"file\" or \"made\""}},
        {"[model]", "subdivide_times = 8", 19, "[model] subdivide_times", {"1 to 7"}},
        {"[model]", "subdivide = 'smooth'", 13, "[model] subdivide", {"catmull-clark", "loop"}},
        {"[model]", "subdivide_times = 3", 19, "[model] subdivide_times", {"without subdivision"}},
        {"[model]",
         "subdivide_crease_deg = 3",
         24,
         "[model] subdivide_crease_deg",
         {"catmull-clark"}},
        {"[model]", "crease_deg = 180.5", 14, "[model] crease_deg", {"from 0 to 180, in degrees"}},
        {"[model]", "clip = \"\"", 8, "[model] clip", {"an empty text", "a name in quotes"}},
        {"[model]", "clip = 0", 8, "[model] clip", {"found 0", "a whole number from 1"}},
        {"[model]", "clip = 1.5", 8, "[model] clip", {"found 1.5"}},
        {"[model]", "clip_time_s = 1", 15, "[model] clip_time_s", {"without a clip", "clip = "}},
        {"[model]", "clip_time_s = nan", 15, "[model] clip_time_s", {"in seconds"}},
        {"[model]", "rest = 1", 8, "[model] rest", {"true or false"}},
        {"[model]", "frame = -1", 9, "[model] frame", {"a whole number from 0"}},
        {"[model]", "shapes = [\"a\"]", 10, "[model] shapes", {"{ smile = 0.6 }"}},
        {"[model]",
         "shapes = { smile = \"1\" }",
         20,
         "[model] shapes",
         {"the text \"1\" for smile", "a finite number", "Take the quotes away."}},
        {"[model]", "shapes = { \"a b\" = inf }", 20, "[model] shapes", {"inf for \"a b\""}},
        {"[output]", "folder = \"\"", 10, "[output] folder", {"an empty text"}},
        {"[output]", "folders = \"x\"", 1, "[output] folders", {"Did you mean folder?"}},
    });
}

TEST_CASE("faults: a clip of a model at rest") {
    CHECK(fault_of("[blank]\n[model]\nfile = 'a'\nrest = true\nclip = 'walk'\n") ==
          "medal.toml:5:8: [model] clip: found a clip with rest = true; expected one of both");
}

TEST_CASE("faults: a front on up's axis") {
    const std::vector<std::string> axes{"+x", "-x", "+y", "-y", "+z", "-z"};
    for (const std::string& up : axes) {
        for (const std::string& front : axes) {
            CAPTURE(up);
            CAPTURE(front);
            const std::string message = fault_of("[blank]\n[model]\nfile = 'a'\nup = '" + up +
                                                 "'\nfront = '" + front + "'\n");
            const std::string expected = "medal.toml:5:9: [model] front: found the front " + front +
                                         " with the top at " + up +
                                         "; expected a front on another axis than up";
            CHECK(message == (up[1] == front[1] ? expected : ""));
        }
    }
}

TEST_CASE("faults: [pose], [framing] and [image]") {
    check_all({
        {"[pose]", "yaw_deg = \"25\"", 11, "[pose] yaw_deg", {"Take the quotes away."}},
        {"[pose]", "pitch_deg = inf", 13, "[pose] pitch_deg", {"a finite number in degrees"}},
        {"[pose]", "roll = 3", 1, "[pose] roll", {"Did you mean roll_deg?"}},
        {"[pose]", "projection = \"ortho\"", 14, "[pose] projection", {"\"parallel\" or"}},
        {"[pose]", "view_deg = 0.5", 12, "[pose] view_deg", {"from 1 to 120, in degrees"}},
        {"[pose]", "view_deg = 121", 12, "[pose] view_deg", {"found 121"}},
        {"[framing]", "fit = \"filed\"", 7, "[framing] fit", {"Did you mean \"field\"?"}},
        {"[framing]", "margin_mm = -1", 13, "[framing] margin_mm", {"from 0 to 2000"}},
        {"[framing]",
         "margin_mm = 19",
         13,
         "[framing] margin_mm",
         {"a margin of 19 mm", "field of 38 x 38 mm", "19 mm"}},
        {"[framing]", "clear_hole = 1", 14, "[framing] clear_hole", {"true or false"}},
        {"[framing]", "shift_mm = 1.5", 12, "[framing] shift_mm", {"2 numbers, right and up"}},
        {"[framing]", "shift_mm = [1]", 12, "[framing] shift_mm", {"an array of 1 value"}},
        {"[framing]", "shift_mm = [1, nan]", 12, "[framing] shift_mm", {"nan as number 2"}},
        {"[framing]", "zoom = 0", 8, "[framing] zoom", {"above 0"}},
        {"[framing]", "fit = \"none\"", 0, "[framing] mm_per_unit", {"mm_per_unit = 1.0"}},
        {"[framing]", "mm_per_unit = 1.0", 15, "[framing] mm_per_unit", {"fit = \"none\""}},
        {"[framing]", "mm_per_unit = 0", 15, "[framing] mm_per_unit", {"above 0"}},
        {"[image]", "covers = \"rim\"", 10, "[image] covers", {"\"blank\" or \"field\""}},
        {"[image]", "px_per_mm = 0", 13, "[image] px_per_mm", {"above 0 and at most 1000"}},
        {"[image]", "px_per_mm = 1001", 13, "[image] px_per_mm", {"1001"}},
        {"[image]", "px_per_mm = 0.01", 13, "[image] px_per_mm", {"0 x 0 px", "one pixel"}},
        {"[image]", "samples = 9", 11, "[image] samples", {"a whole number from 1 to 8"}},
        {"[image]", "samples = 0", 11, "[image] samples", {"found 0"}},
        {"[image]", "samples = 4.0", 11, "[image] samples", {"found 4.0", "a whole number"}},
        {"[image]", "samples = \"4\"", 11, "[image] samples", {"Take the quotes away."}},
    });
}

TEST_CASE("faults: [pass]") {
    check_all({
        {"[pass]", "", 0, "[pass]", {"no pass", "Without any [pass]"}},
        {"[pass]", "dept = {}", 1, "[pass] dept", {"Did you mean depth?"}},
        {"[pass]", "depth = true", 9, "[pass] depth", {"found true", "a table"}},
        {"[pass.depth]",
         "near_margin = 0.9",
         15,
         "[pass.depth] near_margin",
         {"sum up to 0.91", "less than 0.9"}},
        {"[pass.depth]", "far_margin = -0.1", 14, "[pass.depth] far_margin", {"of at least 0"}},
        {"[pass.depth]",
         "range_mm = [2, 2]",
         12,
         "[pass.depth] range_mm",
         {"near 2 and far 2", "below"}},
        {"[pass.depth]",
         "range_mm = [1, 2, 3]",
         12,
         "[pass.depth] range_mm",
         {"2 numbers, near and far"}},
        {"[pass.depth]", "allow_clipping = 0", 18, "[pass.depth] allow_clipping", {"true or"}},
        {"[pass.occlusion]", "reach_mm = 0", 12, "[pass.occlusion] reach_mm", {"above 0"}},
        {"[pass.curvature]", "scale_mm = 0", 12, "[pass.curvature] scale_mm", {"above 0"}},
        {"[pass.curvature]",
         "h_max_per_mm = 0",
         16,
         "[pass.curvature] h_max_per_mm",
         {"above 0, in 1/mm"}},
        {"[pass.silhouette]", "x = 1", 1, "[pass.silhouette] x", {"an unknown key"}},
        {"[pass.contour]", "step_mm = -1", 11, "[pass.contour] step_mm", {"above 0"}},
        {"[pass.normal]", "x = 1", 1, "[pass.normal] x", {"an unknown key"}},
        {"[pass.blank]", "x = 1", 1, "[pass.blank] x", {"an unknown key"}},
        {"[pass.undercut]", "least_mm = 0", 12, "[pass.undercut] least_mm", {"above 0"}},
        {"[pass.undercut]", "most_mm = 0", 11, "[pass.undercut] most_mm", {"above 0, in mm"}},
        {"[pass.steep]", "draft_deg = 0", 13, "[pass.steep] draft_deg", {"from 0.1 to 89"}},
        {"[pass.steep]", "draft_deg = 90", 13, "[pass.steep] draft_deg", {"from 0.1 to 89"}},
        {"[pass.steep]", "depth_scale = 0", 15, "[pass.steep] depth_scale", {"above 0"}},
        {"[pass.steep]", "draft = 3", 1, "[pass.steep] draft", {"Did you mean draft_deg?"}},
        {"[pass]", "draft = {}", 1, "[pass] draft", {"an unknown key"}},
        {"[pass.parts]", "", 0, "[pass.parts] names", {"nothing", "names = [\"shell\"]"}},
        {"[pass.parts]", "depth = 1", 9, "[pass.parts] depth", {"true or"}},
        {"[pass.parts]", "names = []", 9, "[pass.parts] names", {"an empty array"}},
        {"[pass.parts]", "names = ['a', 'b', 'a']", 9, "[pass.parts] names", {"\"a\" twice"}},
    });
}

namespace {

/// The full scene with one line of its [locked] table replaced.
std::string locked_with(const std::string& before, const std::string& after) {
    std::string text = full_scene;
    const std::size_t at = text.find(before, text.find("[locked]"));
    REQUIRE(at != std::string::npos);
    return text.replace(at, before.size(), after);
}

}  // namespace

TEST_CASE("faults: [locked]") {
    const std::string again = "run rakelight lock again";
    for (const char* key : {"projection", "model_hash", "settings_hash", "view_from_model",
                            "centre_model", "mm_per_unit", "picture_mm", "eye_mm"}) {
        CAPTURE(std::string(key));
        const std::size_t table = full_scene.find("[locked]");
        const std::size_t begin = full_scene.find(std::string("\n") + key, table) + 1;
        const bool rows = std::string(key) == "view_from_model";
        const std::size_t end =
            full_scene.find('\n', rows ? full_scene.find("\n]", begin) + 1 : begin);
        std::string text = full_scene;
        const std::string message = fault_of(text.erase(begin, end + 1 - begin));
        CHECK(
            contains(message, "medal.toml:66:1: [locked] " + std::string(key) + ": found nothing"));
        CHECK(contains(message, again));
    }
    const auto fault = [](const char* before, const char* after) {
        return fault_of(locked_with(before, after));
    };
    CHECK(contains(fault("0.8, 0.0, -0.6", "0.8, 0.0, -0.61"),
                   "medal.toml:70:19: [locked] view_from_model: found a matrix that is off"));
    CHECK(contains(fault("[0, 1, 0]", "[0, -1, 0]"), "off a rotation by 1"));
    CHECK(contains(fault("[0, 1, 0]", "[0, 1]"), "medal.toml:72:5: "));
    CHECK(contains(fault("[0, 1, 0]", "[0, 1e300, 1e300]"), "off a rotation"));
    CHECK(contains(fault("    [0, 1, 0],\n", ""), "3 rows of 3 numbers"));
    CHECK(contains(fault("0.8, 0.0, -0.6", "0.8, \"0.0\", -0.6"), "the text \"0.0\" as number 2"));
    CHECK(contains(fault("= 12.7", "= 0.0"), "[locked] mm_per_unit"));
    CHECK(contains(fault("= 140.0", "= 0.0"), "medal.toml:78:10: [locked] eye_mm"));
    CHECK(contains(fault("\"perspective\"", "\"parallel\""), "expected 0.0"));
    CHECK(contains(fault("[1.5, -2, 1e-7]", "[1.5, -2]"), "3 numbers, x, y and z in model units"));
    CHECK(contains(fault("eye_mm = 140.0", "eye_mm = 140.0\neye = 3"),
                   "medal.toml:79:1: [locked] eye"));
    // One part in 1e10 is within what counts as a rotation, one in 1e8 is not.
    CHECK(fault("0.8, 0.0, -0.6", "0.80000000001, 0.0, -0.6") == "");
    CHECK(contains(fault("0.8, 0.0, -0.6", "0.80000001, 0.0, -0.6"), "off a rotation"));
}

TEST_CASE("faults: tables of the file") {
    const std::string model = "[model]\nfile = \"a.ply\"\n";
    CHECK(contains(fault_of(model), "medal.toml:3:1: [blank]: found no such table"));
    CHECK(contains(fault_of(model), "shape = \"round\""));
    CHECK(contains(fault_of("[blank]\n"), "medal.toml:2:1: [model]: found no such table"));
    CHECK(contains(fault_of("[blank]"), "medal.toml:1:8: [model]: found no such table"));
    CHECK(contains(fault_of("[blnak]\n" + model),
                   "medal.toml:1:2: [blnak]: found an unknown table; expected one of the scene's "
                   "tables. Did you mean [blank]?"));
    CHECK(contains(fault_of("[etching]\n" + smallest),
                   "blank, model, pose, framing, poses, image, pass"));
    CHECK(contains(fault_of("width_mm = 3\n" + smallest),
                   "medal.toml:1:1: width_mm: found an unknown key"));
    CHECK(contains(fault_of("blank = 3\n" + model),
                   "medal.toml:1:9: [blank]: found 3; expected a table"));
    CHECK(contains(fault_of("[[blank]]\n" + model),
                   "medal.toml:1:1: [blank]: found an array of tables"));
    for (const char* empty : {"", "\n\n", "# only a comment\n", "\xef\xbb\xbf", " "}) {
        CHECK(contains(fault_of(empty), "medal.toml: found an empty file"));
    }
}

TEST_CASE("faults: what is not TOML") {
    const auto fault = [](const std::string& text) { return fault_of(text); };
    CHECK(contains(fault("[blank\n"), "medal.toml:1:7: not valid TOML: expected ']'"));
    CHECK(contains(fault("[blank]\nwidth_mm =\n"),
                   "medal.toml:2:11: not valid TOML: expected value"));
    CHECK(contains(fault("[blank]\nwidth_mm = 1\nwidth_mm = 2\n"), "medal.toml:3:"));
    CHECK(contains(fault("[blank]\nwidth_mm = 1\nwidth_mm = 2\n"), "cannot redefine"));
    CHECK(
        contains(fault("[blank]\n\n[blank]\n"), "medal.toml:3:1: not valid TOML: cannot redefine"));
    CHECK(contains(fault("[blank]\nrim_mm = .5\n"), "medal.toml:2:10: not valid TOML"));
    CHECK(contains(fault("[model]\nfile = \"a\\p.ply\"\n"), "unknown escape sequence"));
    CHECK(contains(fault("[blank]\nshape = \xe2\x80\x9cround\xe2\x80\x9d\n"),
                   "medal.toml:2:9: found the character \"\xe2\x80\x9c\""));
    CHECK(contains(fault("[blank]\nshape = \xe2\x80\x9cround\xe2\x80\x9d\n"), "must be straight"));
    CHECK(contains(fault("x = ['\xc3\xa4', \xe2\x80\x9cround']"), "medal.toml:1:11: found the"));
    CHECK(contains(fault("\xc3\xa4 = 1\n"), "medal.toml:1:1: found the character"));
    // Columns count characters, not bytes.
    CHECK(contains(fault("[model]\nfile = \"\xc3\xa4\xc3\xb6.ply\" x\n"), "medal.toml:2:17: "));
    CHECK(contains(fault("[blank]\n\tx = '\xff'\n"),
                   "medal.toml:2:7: found bytes that are not UTF-8"));
    CHECK(contains(fault("# \xed\xa0\x80\n"), "medal.toml:1:3: found bytes that are not UTF-8"));
    CHECK(contains(fault("# \xe0\x9f\xbf\n"), "medal.toml:1:3: found bytes"));
    CHECK(contains(fault("# \xf0\x8f\xbf\xbf\n"), "medal.toml:1:3: found bytes"));
    CHECK(contains(fault("# \xc0\x80\n"), "medal.toml:1:3: found bytes"));
    CHECK(contains(fault("# \xf4\x90\x80\x80\n"), "medal.toml:1:3: found bytes"));
    CHECK(contains(fault("# \xe2\x82"), "medal.toml:1:3: found bytes"));
    CHECK(contains(fault(std::string("\xff\xfe[\0b\0", 6)), "medal.toml:1:1: found bytes"));
    CHECK(contains(fault(std::string("[blank]\nx = \0\n", 14)), "medal.toml:2:"));
    // The parser builds a table for each part of a key, without a limit of its own.
    std::string deep = "a";
    for (int i = 0; i < 100000; ++i) deep += ".a";
    CHECK(
        contains(fault("[" + deep + "]\n"), "medal.toml:1:33: found a key of more than 16 parts"));
    CHECK(contains(fault(deep + " = 1\n"), "medal.toml:1:32: found a key of more than 16 parts"));
    CHECK(contains(fault("x = " + std::string(100000, '[')), "nested"));
    std::string braces;
    for (int i = 0; i < 100000; ++i) braces += "a={";
    CHECK(contains(fault(braces), "nested"));
}

TEST_CASE("faults: the first in the file's order is told, whatever finds it") {
    // Unknown keys, misfits, types and missing keys are found at different times.
    CHECK(contains(fault_of("[blank]\nrim_mm = 30\nwidht = 3\n[model]\nfile = 3\n"), ":2:10: "));
    CHECK(contains(fault_of("[blank]\nwidht = 3\nrim_mm = 30\n[model]\nfile = 3\n"), ":2:1: "));
    CHECK(contains(fault_of("[model]\nfile = 3\n[blank]\nrim_mm = 30\n"), ":2:8: "));
    CHECK(contains(fault_of("[zzz]\n[model]\nfile = 3\n"), ":1:2: "));
    // A slip in a key's name is told, not that the key is missing.
    CHECK(contains(fault_of("[blank]\n[model]\nfiel = \"a.ply\"\n"), "Did you mean file?"));
    // A size that is wrong by itself is not blamed on what would have had to fit it.
    CHECK(contains(fault_of("[blank]\nrim_mm = 25\nwidth_mm = \"80\"\n[model]\nfile = 'a'\n"),
                   ":3:12: "));
    CHECK(contains(fault_of("[blank]\nhole = { from_top_mm = 39.0 }\nwidth_mm = \"80\"\n[model]\n"
                            "file = 'a'\n"),
                   ":3:12: "));
}

TEST_CASE("faults: a height or radius that cannot be is not blamed on the hole") {
    CHECK(contains(fault_of("[blank]\nhole = { from_top_mm = 39.0 }\nwidth_mm = 80\n"
                            "height_mm = 10\n[model]\nfile = 'a'\n"),
                   ":4:13: "));
    CHECK(contains(fault_of("[blank]\nhole = {}\nshape = 'rectangle'\nheight_mm = 40\n"
                            "corner_radius_mm = 30\n[model]\nfile = 'a'\n"),
                   ":5:20: [blank] corner_radius_mm: found a radius of 30 mm"));
}

TEST_CASE("faults: a margin leaves room beside the exergue") {
    const auto fault = [](const std::string& margin) {
        return fault_of(
            "[blank]\nrim_mm = 1\nexergue_mm = 28\n[model]\nfile = 'a'\n"
            "[framing]\nmargin_mm = " +
            margin + "\n");
    };
    // A field of 36 mm less 28 mm: 8 mm high.
    CHECK(fault("3.9") == "");
    CHECK(contains(fault("4"),
                   "medal.toml:7:13: [framing] margin_mm: found a margin of 4 mm in a "
                   "field of 36 x 8 mm, exergue left out"));
}

TEST_CASE("limits: the ends of a range are in it") {
    for (const Override& set : std::vector<Override>{{"blank.width_mm", "2000"},
                                                     {"pose.view_deg", "1"},
                                                     {"pose.view_deg", "120"},
                                                     {"model.crease_deg", "0"},
                                                     {"model.crease_deg", "180"},
                                                     {"framing.margin_mm", "0"},
                                                     {"framing.zoom", "1000"},
                                                     {"framing.shift_mm", "[-2000, 2000]"},
                                                     {"image.px_per_mm", "1000"},
                                                     {"image.samples", "1"},
                                                     {"image.samples", "8"},
                                                     {"pass.depth.near_margin", "0"},
                                                     {"pass.occlusion.reach_mm", "2000"},
                                                     {"pass.curvature.scale_mm", "2000"},
                                                     {"pass.contour.step_mm", "2000"}}) {
        CAPTURE(set.key);
        CAPTURE(set.value);
        CHECK(fault_of(smallest, {set}) == "");
    }
    for (const Override& set : std::vector<Override>{{"blank.width_mm", "2000.0000001"},
                                                     {"pose.view_deg", "0.9999999"},
                                                     {"pose.view_deg", "120.0000001"},
                                                     {"model.crease_deg", "-1e-300"},
                                                     {"framing.zoom", "1000.0000001"},
                                                     {"framing.shift_mm", "[-2000.0000001, 0]"},
                                                     {"image.px_per_mm", "1000.0000001"},
                                                     {"pass.occlusion.reach_mm", "2000.0000001"}}) {
        CAPTURE(set.key);
        CHECK(fault_of(smallest, {set}) != "");
    }
}

TEST_CASE("faults: nothing from the file floods or steers a terminal") {
    const std::string text(5000, 'x');
    const std::string message = fault_of("[blank]\nshape = \"\\u001b[31m" + text + "\"\n");
    CHECK(message.size() < 300);
    CHECK(contains(message, "\\u001b[31m"));
    CHECK(fault_of("[blank]\n" + text + " = 1\n").size() < 300);
}

TEST_CASE("faults: files that are no scene") {
    const auto fault = [](const std::filesystem::path& path) {
        try {
            read_scene(path);
        } catch (const Error& error) {
            CHECK(error.code() == ExitCode::bad_scene);
            return std::string(error.what());
        }
        return std::string();
    };
    const std::filesystem::path folder =
        std::filesystem::temp_directory_path() / "rakelight-test-scene";
    std::filesystem::create_directories(folder);
    const std::filesystem::path file = folder / "medal.toml";
    const auto write = [&file](const std::string& text) {
        std::ofstream(file, std::ios::binary) << text;
    };
    std::filesystem::remove(file);
    CHECK(contains(fault(folder), "found a folder; expected a scene file"));
    CHECK(contains(fault(file), "found a file that cannot be read (No such file"));
    write("");
    CHECK(contains(fault(file), file.string() + ": found an empty file"));
    write(smallest + "#" + std::string(1 << 20, 'x'));
    CHECK(contains(fault(file), "found more than 1 MiB"));
    write("\xef\xbb\xbf" + smallest + "[blank]\n");
    CHECK(contains(fault(file), file.string() + ":4:1: not valid TOML"));
    // A byte order mark is no fault, and does not shift columns.
    write("\xef\xbb\xbf" + smallest);
    CHECK(fault(file) == "");
    CHECK(read_scene(file).model.file == folder / "ammonite.ply");
    write("\xef\xbb\xbf[blank] x\n");
    CHECK(contains(fault(file), ":1:9: "));
    // As large as a scene may be.
    write(smallest + "#" + std::string((1 << 20) - smallest.size() - 1, 'x'));
    CHECK(fault(file) == "");
    CHECK(contains(fault_of(smallest + "#" + std::string(1 << 20, 'x')), "more than 1 MiB"));
    std::filesystem::remove_all(folder);
}
