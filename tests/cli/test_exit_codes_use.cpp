// Exit codes 0, 1 and 2 of the table in the design and in `rakelight --help`.

#include <sys/resource.h>

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

TEST_SUITE_BEGIN("cli.exit_codes");

TEST_CASE("version and help end with 0") {
    const Ended version = rakelight({"--version"});
    CHECK(version.code == 0);
    CHECK(version.out.rfind("rakelight ", 0) == 0);
    CHECK(version.err == "");
    const Ended help = rakelight({"--help"});
    CHECK(help.code == 0);
    for (const char* word : {"Exit codes", "130, 143", "A first try:"}) {
        CHECK(contains(help.out, word));
    }
}

TEST_CASE("every command's help has an example that uses the command") {
    const std::string list = rakelight({"--help"}).out;
    for (const std::string command : {"draft", "inspect", "check", "render", "lock", "graphics"}) {
        CAPTURE(command);
        CHECK(contains(list, "\n  " + command + " "));
        const Ended help = rakelight({command, "--help"});
        CHECK(help.code == 0);
        CHECK(help.err == "");
        const std::size_t example = help.out.find("Example:\n");
        REQUIRE(example != std::string::npos);
        CHECK(contains(help.out.substr(example), "  rakelight " + command));
    }
}

TEST_CASE("wrong use ends with 2 and says what was found") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    const std::string scene = place / "scene.toml";
    write_file(scene, SceneText{}.text());
    check_refused(rakelight({}), 2, {"--help"});
    check_refused(rakelight({"mint"}), 2, {"mint", "--help"});
    check_refused(rakelight({"render"}), 2, {"SCENE"});
    check_refused(rakelight({"inspect"}), 2, {"MODEL"});
    check_refused(rakelight({"check", scene, "--gilded"}), 2, {"--gilded"});
    check_refused(rakelight({"check", scene, "--set"}), 2, {"--set"});
    check_refused(rakelight({"check", scene, "--set", "pose.yaw_deg"}), 2, {"=", "pose.yaw_deg"});
    check_refused(rakelight({"check", scene, "--set", "=4"}), 2, {"=4"});
    check_refused(rakelight({"check", scene, "--set", "pose.yaw_deg=[1"}), 2, {"[1", "TOML"});
    check_refused(rakelight({"check", scene, "--quiet", "--verbose"}), 2, {"--quiet", "--verbose"});
    check_refused(rakelight({"graphics", "--context", "glx"}), 2, {"glx", "egl", "glfw"});
    check_refused(rakelight({"inspect", place / "model.ply", "--cache-mib", "few"}), 2,
                  {"--cache-mib", "few"});
    check_refused(rakelight({"inspect", place / "model.ply", "--clip", "walk"}), 2,
                  {"model.ply", "clip", "\"walk\"", "no clips"});
    check_refused(rakelight({"inspect", place / "model.ply", "--clip-time-s", "1"}), 2,
                  {"--clip-time-s", "--clip"});
    check_refused(
        rakelight({"inspect", place / "model.ply", "--clip", "a", "--clip-time-s", "nan"}), 2,
        {"--clip-time-s", "nan"});
}

TEST_CASE("limits that are no sensible numbers end with 2, named") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    for (const std::string option :
         {"--memory", "--import-memory-mib", "--import-cpu-s", "--import-wall-s", "--cache-mib"}) {
        for (const std::string value : {"-3", "1.5", "many", "nan", "99999999999999999999"}) {
            CAPTURE(option + " " + value);
            const Ended ended = rakelight({"inspect", place / "model.ply", option, value});
            check_refused(ended, 2, {option, value});
            CHECK(ended.err.size() < 300);
        }
    }
}

TEST_CASE("two scenes with one folder for their pictures end with 2 and write nothing") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    const std::string scene = place / "scene.toml";
    write_file(scene, SceneText{}.text());
    check_refused(rakelight({"render", scene, scene}), 2, {"two scenes", "scene-passes"});
    fs::create_directory(place / "other");
    SceneText other;
    other.model = "file = \"../model.ply\"\nup = \"+y\"\n";
    write_file(place / "other/scene.toml", other.text());
    const std::string out = place / "out";
    check_refused(rakelight({"render", scene, place / "other/scene.toml", "--out", out}), 2,
                  {"two scenes", "out/scene"});
    CHECK_FALSE(fs::exists(out));
    CHECK_FALSE(fs::exists(place / "scene-passes"));
}

#ifndef __SANITIZE_ADDRESS__  // whose shadow memory takes terabytes of address space
TEST_CASE("out of memory is a fault of the program: 1, with advice, nothing written") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    SceneText text;
    text.passes = "[pass.occlusion]\nreach_mm = 1\n";
    write_file(place / "scene.toml", text.text());
    const std::string scene = place / "scene.toml";
    // The plate of 10 mm at 1000 px/mm is 1e8 pixels. Occlusion keeps the height of each, which is
    // more than 0.4 GB; all else goes by rows, and the picture of a hundredth fits.
    Setup little;
    little.env["MALLOC_ARENA_MAX"] = "1";  // glibc sets 64 MiB of addresses aside for each thread
    little.in_child = [] {
        const rlimit limit{rlim_t{448} << 20, rlim_t{448} << 20};
        ::setrlimit(RLIMIT_AS, &limit);
    };
    const std::string out = place / "out";
    CHECK(rakelight({"render", scene, "--out", place / "small", "--set", "image.px_per_mm=100"},
                    little)
              .code == 0);
    const Ended ended =
        rakelight({"render", scene, "--out", out, "--set", "image.px_per_mm=1000"}, little);
    check_refused(ended, 1, {"memory"});
    CHECK_FALSE(fs::exists(out));
}
#endif

TEST_SUITE_END();
