// The first scene parses as it is, whatever the model and its parts are called.

#include "scene/draft.hpp"
#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

const DraftFacts facts{
    "ammonite.ply", "+z", "convention of the format", "30.1 x 12 x 29.5 mm", {"shell", "rib"}};

}  // namespace

TEST_CASE("draft: a round medal blank, and nothing but the defaults besides") {
    const std::string text = draft_scene(facts);
    const Scene scene = parse(text);
    CHECK(scene.blank.shape == BlankShape::round);
    CHECK(scene.blank.width_mm == 38.0);
    CHECK(scene.blank.rim_mm == 1.2);
    CHECK(scene.model.file_as_written == "ammonite.ply");
    CHECK(scene.model.up == Axis::plus_z);
    CHECK(scene.warnings.empty());
    Scene plain = parse("[blank]\nrim_mm = 1.2\n[model]\nfile = 'ammonite.ply'\nup = '+z'\n");
    CHECK(dump(scene) == dump(plain));
    for (const char* words : {"shell", "rib", "convention of the format", "30.1 x 12 x 29.5 mm",
                              "the viewer's right", "towards the viewer", "counter-clockwise"}) {
        CHECK(contains(text, words));
    }
    CHECK(parse(draft_scene({"a.ply", "", "", "", {}})).model.up == std::nullopt);
}

TEST_CASE("draft: what stands in comments is sound when it is switched on") {
    std::string text = draft_scene(facts);
    int switched = 0;
    for (std::size_t at = text.find("\n#"); at != std::string::npos;
         at = text.find("\n#", at + 1)) {
        // Prose has a space after the mark, settings have none.
        if (text[at + 2] == ' ') continue;
        text.erase(at + 1, 1);
        ++switched;
    }
    CHECK(switched >= 6);
    const Scene scene = parse(text);
    CHECK(scene.blank.exergue_mm == 6.0);
    CHECK(scene.blank.hole.has_value());
    CHECK(scene.model.use == std::vector<std::string>{"shell"});
    CHECK(scene.passes.depth.has_value());
    CHECK(scene.passes.occlusion->reach_mm == 4.0);
    CHECK_FALSE(scene.passes.curvature.has_value());
    REQUIRE(scene.relief.has_value());
    CHECK(scene.relief->height_mm == 2.0);
}

TEST_CASE("draft: names of any kind are escaped") {
    const std::vector<std::string> files{"a b.ply",
                                         "a\"b.ply",
                                         "a\\b.ply",
                                         "it's.ply",
                                         "#1.ply",
                                         "gr\xc3\xb6\xc3\x9f"
                                         "e.ply",
                                         "../x/[locked].ply"};
    for (const std::string& file : files) {
        CAPTURE(file);
        DraftFacts own = facts;
        own.model_file = file;
        own.part_names = {file, "line\nbreak", "\x01\x7f\r", "\xff\xfe", "", "\"\"\"", "end\\"};
        own.size = "1\n[x]";
        own.up_reason = "a\r\nb\x01";
        CHECK(parse(draft_scene(own)).model.file_as_written == file);
    }
}

TEST_CASE("draft: a thousand parts do not make a thousand lines") {
    DraftFacts own = facts;
    own.part_names.assign(1000, "a part with a rather long name");
    const std::string text = draft_scene(own);
    CHECK(contains(text, "and 960 more"));
    CHECK(text.size() < 5000);
    std::size_t widest = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = text.find('\n', at);
        widest = std::max(widest, end - at);
        at = end + 1;
    }
    CHECK(widest <= 100);
}

TEST_CASE("draft: a file name that no scene can hold is refused") {
    DraftFacts own = facts;
    own.model_file = "a\xff.ply";
    try {
        draft_scene(own);
        FAIL("accepted");
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::bad_model);
        CHECK(contains(error.what(), "not UTF-8"));
    }
    // A line break in a file's name is legal on disk, but no path of a scene.
    own.model_file = "a\nb.ply";
    CHECK(contains(fault_of(draft_scene(own)), "a control character"));
}
