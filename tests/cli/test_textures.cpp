// Detail in pictures, from the command: what inspect lists, what the manifest says of who drew.

#include "support.hpp"

using namespace cli_test;

namespace {

const fs::path textured =
    fs::path(RAKELIGHT_SOURCE_MODELS) / "glTF2/ClearCoat-glTF/ClearCoatTest.gltf";

// A copy without its pictures.
fs::path bare_copy(const Place& place) {
    for (const char* name : {"ClearCoatTest.gltf", "ClearCoatTest.bin"}) {
        const fs::path from = textured.parent_path() / name;
        if (fs::exists(from)) fs::copy_file(from, place / name);
    }
    return place / "ClearCoatTest.gltf";
}

}  // namespace

TEST_SUITE_BEGIN("cli.textures");

TEST_CASE("inspect lists every picture with its use and size") {
    const Ended ended = rakelight({"inspect", textured, "--json"});
    REQUIRE(ended.code == 0);
    const Json list = Json::parse(ended.out).at("textures");
    int ribs = 0;
    for (const Json& t : list) {
        CHECK(t.at("state") == "read");
        if (t.at("name") != "RibsNormal.png") continue;
        ++ribs;
        CHECK(t.at("use") == "normal map");
        CHECK(t.at("width") == 512);  // as the PNG's header has it
        CHECK(t.at("found") == "RibsNormal.png");
    }
    CHECK(ribs > 0);
    const Ended text = rakelight({"inspect", textured});
    CHECK(contains(text.out, "normal map       RibsNormal.png, material BaseNorm_Base: 512 x 512"));
}

TEST_CASE("a missing picture is said with the paths that were tried, and the model is there") {
    const Place place;
    const Ended ended = rakelight({"inspect", bare_copy(place)});
    REQUIRE(ended.code == 0);
    CHECK(contains(ended.err, "\"RibsNormal.png\", was not found; tried \"RibsNormal.png\""));
    CHECK(contains(ended.out, "RibsNormal.png, material BaseNorm_Base: missing"));
    CHECK(contains(ended.out, "    tried textures/RibsNormal.png"));
}

TEST_CASE("a picture that appears later is seen, in spite of the cache") {
    const Place place;
    const fs::path model = bare_copy(place);
    const auto state = [&] {
        const Ended ended = rakelight({"inspect", model, "--json"});
        REQUIRE(ended.code == 0);
        std::string states;
        const Json list = Json::parse(ended.out).at("textures");
        for (const Json& t : list)
            if (t.at("name") == "RibsNormal.png") states = t.at("state");
        return states;
    };
    CHECK(state() == "missing");
    fs::create_directories(place / "textures");
    fs::copy_file(textured.parent_path() / "RibsNormal.png", place / "textures/RibsNormal.png");
    CHECK(state() == "read");
}

TEST_CASE("the processor draws what has pictures, whatever was chosen") {
    const Place place;
    SceneText scene;
    scene.model = "file = '" + textured.string() + "'\n";
    scene.framing = "";
    scene.passes = "[pass.normal]\n";
    const Rendered automatic = render(place, scene, "auto");
    CHECK(automatic.manifest.at("graphics").at("context") == "processor");
    const Ended context = rakelight({"graphics", "--context", "egl"});
    if (context.code != 0) {
        MESSAGE("skipped: no driver through EGL");
        return;
    }
    const Rendered chosen = render(place, scene, "egl", {"--context", "egl"});
    CHECK(chosen.manifest.at("graphics").at("context") == "processor");
    scene.model += "texture_detail = \"none\"\n";
    const Rendered plain = render(place, scene, "plain", {"--context", "egl"});
    CHECK(plain.manifest.at("graphics").at("context") != "processor");
    CHECK(read_file(plain.folder / "normal.png") != read_file(chosen.folder / "normal.png"));
}

TEST_CASE("a smoothed cage goes without its pictures, and says so") {
    const Place place;
    SceneText scene;
    scene.model = "file = '" + textured.string() + "'\nsubdivide = \"loop\"\nsubdivide_times = 1\n";
    scene.framing = "";
    scene.passes = "[pass.normal]\n";
    const Rendered smooth = render(place, scene, "smooth");
    CHECK(contains(smooth.ended.err, "RibsNormal.png"));
    CHECK(contains(smooth.ended.err, "the surface is subdivided, and pictures do not follow it"));
    scene.model += "texture_detail = \"none\"\n";
    CHECK_FALSE(contains(render(place, scene, "bare").ended.err, "RibsNormal.png"));
}

TEST_SUITE_END();
