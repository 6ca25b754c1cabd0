// Exit codes 5 and 6: no graphics, and outputs that cannot be written.

#include <sys/resource.h>

#include <csignal>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

Setup without_display(std::map<std::string, std::string> env = {}) {
    Setup setup;
    setup.env = std::move(env);
    setup.unset = {"DISPLAY", "WAYLAND_DISPLAY"};
    return setup;
}

// As on a full disk: no file may grow beyond so many bytes, and the system says so with an error.
Setup full_disk(rlim_t bytes) {
    Setup setup;
    setup.in_child = [bytes] {
        std::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{bytes, bytes};
        ::setrlimit(RLIMIT_FSIZE, &limit);
    };
    return setup;
}

std::string small_scene(const Place& place) {
    write_ply(place / "model.ply", sphere(6, 8));
    write_file(place / "scene.toml", SceneText{}.text());
    return place / "scene.toml";
}

}  // namespace

TEST_SUITE_BEGIN("cli.exit_codes");

TEST_CASE("without a display the hidden window ends with 5 and says why") {
    const Place place;
    const std::string scene = small_scene(place);
    for (const Words& arguments :
         {Words{"graphics"}, Words{"render", scene, "--out", place / "out"}}) {
        Words words = arguments;
        words.insert(words.end(), {"--context", "glfw"});
        check_refused(rakelight(words, without_display()), 5, {"Tried:", "GLFW", "DISPLAY"});
    }
    CHECK_FALSE(fs::exists(place / "out"));
}

TEST_CASE("without any driver EGL ends with 5, every way that was tried is named; auto renders") {
    const Place place;
    const std::string scene = small_scene(place);
    // https://github.com/NVIDIA/libglvnd, src/EGL/icd_enumeration.md: the variable names the
    // files of the drivers, and nothing else is loaded.
    write_file(place / "no-driver.json", "{}");
    const Setup setup =
        without_display({{"__EGL_VENDOR_LIBRARY_FILENAMES", place / "no-driver.json"}});
    check_refused(rakelight({"render", scene, "--context", "egl"}, setup), 5,
                  {"Tried:", "EGL", "no driver", "Without --context"});
    CHECK_FALSE(fs::exists(place / "scene-passes"));
    const Ended any = rakelight({"render", scene}, setup);
    CHECK(any.code == 0);
    CHECK(any.err == "");
    CHECK(read_picture(place / "scene-passes/depth.png").width == 200);
    CHECK(rakelight({"graphics"}, setup).code == 0);
}

TEST_CASE("pictures that cannot be written where they shall go end with 6") {
    const Place place;
    const std::string scene = small_scene(place);
    write_file(place / "taken", "a club's minutes");
    check_refused(rakelight({"render", scene, "--out", place / "taken"}), 6, {"taken", "folder"});
    check_refused(rakelight({"render", scene, "--out", place / "taken/below"}), 6, {"taken/below"});
    CHECK(read_file(place / "taken") == "a club's minutes");
    CHECK(snapshot(place.folder()).size() == 3);
}

TEST_CASE("draft replaces a file only with --force") {
    const Place place;
    small_scene(place);
    write_file(place / "medal.toml", "# mine\n");
    const Words words{"draft", place / "model.ply", "-o", place / "medal.toml"};
    check_refused(rakelight(words), 6, {"medal.toml", "--force"});
    CHECK(read_file(place / "medal.toml") == "# mine\n");
    check_refused(rakelight({"draft", place / "model.ply", "-o", place / "model.ply/x.toml"}), 6,
                  {"x.toml"});
    Words forced = words;
    forced.push_back("--force");
    CHECK(rakelight(forced).code == 0);
    CHECK(contains(read_file(place / "medal.toml"), "[blank]"));
}

TEST_CASE("a full disk ends with 6; nothing half-written stays, what was there stays") {
    const Place place;
    const std::string scene = small_scene(place);
    const std::string out = place / "out";
    REQUIRE(rakelight({"render", scene, "--out", out}).code == 0);
    const Snapshot before = snapshot(out);
    const Words again{"render", scene, "--out", out, "--set", "image.px_per_mm=12"};
    // The proof of this scene takes more bytes, its manifest too.
    check_refused(rakelight(again, full_disk(1000)), 6, {"out"});
    CHECK(differences(before, snapshot(out)).empty());
    check_refused(rakelight({"render", scene, "--out", place / "new"}, full_disk(1000)), 6,
                  {"new"});
    CHECK_FALSE(fs::exists(place / "new"));
    REQUIRE(rakelight(again).code == 0);  // the limit alone was in the way
    CHECK_FALSE(differences(before, snapshot(out)).empty());
}

TEST_CASE("draft and lock on a full disk end with 6 and leave the scene as it was") {
    const Place place;
    const std::string scene = small_scene(place);
    const std::string before = read_file(scene);
    REQUIRE(rakelight({"check", scene}).code == 0);  // the mesh is in the cache now
    check_refused(rakelight({"lock", scene}, full_disk(100)), 6, {"scene.toml"});
    CHECK(read_file(scene) == before);
    check_refused(
        rakelight({"draft", place / "model.ply", "-o", place / "medal.toml"}, full_disk(100)), 6,
        {"medal.toml"});
    CHECK(snapshot(place.folder()).size() == 2);
}

TEST_CASE("an answer that cannot be written to stdout ends with 6") {
    const Place place;
    const std::string scene = small_scene(place);
    const std::string model = place / "model.ply";
    Setup full, closed;
    full.in_child = onto(1, "/dev/full");
    closed.in_child = closing(1);
    for (const Words& words :
         {Words{"inspect", model, "--json"}, Words{"inspect", model}, Words{"draft", model},
          Words{"check", scene, "--json"}, Words{"graphics", "--json"}, Words{"--help"},
          Words{"--version"}, Words{"render", scene, "--json"}}) {
        CAPTURE(words[0]);
        CHECK(rakelight(words).code == 0);
        check_refused(rakelight(words, full), 6, {"standard output"});
        check_refused(rakelight(words, closed), 6, {"standard output"});
    }
    // Nothing of the answer went into another file that took the closed descriptor's number.
    CHECK(rakelight({"inspect", model, "--json"}).code == 0);
    CHECK(Json::parse(read_file(place / "scene-passes/manifest.json")).is_object());
}

TEST_CASE("with all three standard descriptors closed an import does not lose its mesh") {
    const Place place;
    write_ply(place / "first.ply", sphere(6.5, 8));
    write_ply(place / "second.ply", sphere(6.6, 8));
    SceneText scene;
    scene.model = "file = \"second.ply\"\n";
    write_file(place / "scene.toml", scene.text());
    Setup closed;
    closed.in_child = [] {
        for (const int descriptor : {0, 1, 2}) closing(descriptor)();
    };
    CHECK(rakelight({"inspect", place / "first.ply"}, closed).code == 6);  // no stdout to answer on
    CHECK(rakelight({"render", place / "scene.toml", "--quiet"}, closed).code == 0);
    CHECK(read_picture(place / "scene-passes/depth.png").width == 200);
    // What came into the cache meanwhile is sound.
    const Ended again = rakelight({"inspect", place / "first.ply", "--json"});
    CHECK(again.code == 0);
    CHECK(Json::parse(again.out).at("triangles") == 6 * 2 * 8 * 8);
}

TEST_SUITE_END();
