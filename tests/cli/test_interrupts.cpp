// SIGINT and SIGTERM: the exit codes of the design, and what is left on the disk. No test waits for
// a while and hopes: each waits for a sign of the work it wants to interrupt, and tries a larger
// work when it was done before the signal came.

#include <sys/types.h>
#include <unistd.h>

#include <csignal>
#include <fstream>

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

int code_of(int signal_number) {
    return 128 + signal_number;
}

// Stops a render once its progress line names a step. The picture grows until it is not done first.
// Gives the code that it ended with.
Ended interrupted_render(const std::string& scene, const std::string& out, const std::string& step,
                         int signal_number) {
    Setup setup;
    setup.stderr_is_terminal = true;
    Ended ended;
    for (const char* px_per_mm : {"30", "60", "120", "240", "480"}) {
        const std::string set = std::string("image.px_per_mm=") + px_per_mm;
        Process process(command_line({"render", scene, "--out", out, "--set", set}),
                        own_folders(setup));
        if (process.wait_for([&] { return contains(process.err(), ": " + step); })) {
            process.send(signal_number);
        }
        ended = process.end();
        if (ended.code != 0) break;
    }
    return ended;
}

std::vector<pid_t> children_of(pid_t pid) {
    const std::string id = std::to_string(pid);
    std::ifstream stream("/proc/" + id + "/task/" + id + "/children");
    std::vector<pid_t> children;
    for (pid_t child = 0; stream >> child;) children.push_back(child);
    return children;
}

std::string write_large_obj(const Place& place, int cuts) {
    const Model ball = sphere(6.0, cuts);
    write_obj(place / "large.obj", ball, ball);
    return place / "large.obj";
}

}  // namespace

TEST_SUITE_BEGIN("cli.interrupts");

TEST_CASE("a render that is interrupted leaves what was there, and nothing of its own") {
    const Place place;
    write_crooked_scene(place);
    const std::string file = place / "scene.toml";
    const std::string out = place / "out";
    REQUIRE(rakelight({"render", file, "--out", out}).code == 0);
    const Snapshot before = snapshot(place.folder());
    for (const int signal_number : {SIGINT, SIGTERM}) {
        for (const std::string step : {"preparing the model", "rendering", "writing"}) {
            CAPTURE(step);
            CAPTURE(signal_number);
            const Ended ended = interrupted_render(file, out, step, signal_number);
            CHECK(ended.code == code_of(signal_number));
            CHECK(ended.signal == 0);
            CHECK(contains(ended.err, "rakelight: error: "));
            if (ended.code == 0) return;
            CHECK(differences(before, snapshot(place.folder())).empty());
        }
    }
    const std::string fresh = place / "fresh";
    CHECK(interrupted_render(file, fresh, "writing", SIGTERM).code == 143);
    CHECK_FALSE(fs::exists(fresh));
    CHECK(rakelight({"render", file, "--out", fresh}).code == 0);
    CHECK(differences(lasting_files(out), lasting_files(fresh)).empty());
}

TEST_CASE("an import that is interrupted takes its process and its files with it") {
    const Place place;
    Setup setup;
    setup.env["XDG_CACHE_HOME"] = place / "cache";
    setup.env["TMPDIR"] = place / "tmp";
    fs::create_directory(place / "tmp");
    for (const std::string cache : {"--verbose", "--no-cache"}) {  // the one says nothing here
        for (const int signal_number : {SIGINT, SIGTERM}) {
            CAPTURE(cache);
            CAPTURE(signal_number);
            Ended ended;
            for (const int cuts : {100, 200, 400}) {
                const std::string model = write_large_obj(place, cuts);
                fs::remove_all(place / "cache");
                Process process(command_line({"inspect", model, cache}), own_folders(setup));
                std::vector<pid_t> children;
                if (process.wait_for([&] {
                        children = children_of(process.pid());
                        return !children.empty();
                    })) {
                    process.send(signal_number);
                }
                ended = process.end();
                if (ended.code == 0) continue;
                REQUIRE(!children.empty());
                CHECK(::kill(children.front(), 0) == -1);
                break;
            }
            CHECK(ended.code == code_of(signal_number));
            CHECK(ended.signal == 0);
            CHECK(ended.out == "");
            CHECK(fs::is_empty(place / "tmp"));
            if (fs::exists(place / "cache")) CHECK(snapshot(place / "cache").empty());
        }
    }
    write_large_obj(place, 20);
    CHECK(rakelight({"inspect", place / "large.obj"}, setup).code == 0);
}

TEST_CASE("Ctrl-C in a terminal, which reaches the import's process too, is still 130") {
    const Place place;
    const std::string model = write_large_obj(place, 150);
    int interrupted = 0;
    for (int i = 0; i < 40; ++i) {
        Process process(command_line({"inspect", model, "--no-cache"}), own_folders());
        if (process.wait_for([&] { return !children_of(process.pid()).empty(); })) {
            ::usleep(static_cast<useconds_t>(2000 * i));  // all along the import
            ::kill(-process.pid(), SIGINT);
        }
        const Ended ended = process.end();
        if (ended.code == 0) continue;  // it was done
        INFO(ended.err);
        CHECK(ended.code == 130);
        ++interrupted;
    }
    CHECK(interrupted > 0);
}

TEST_CASE("check and lock are interrupted while they import, and change nothing") {
    const Place place;
    write_large_obj(place, 150);
    SceneText scene;
    scene.model = "file = \"large.obj\"\n";
    write_file(place / "scene.toml", scene.text());
    const Snapshot before = snapshot(place.folder());
    for (const std::string command : {"check", "lock", "render"}) {
        CAPTURE(command);
        Process process(command_line({command, place / "scene.toml", "--no-cache"}), own_folders());
        if (process.wait_for([&] { return !children_of(process.pid()).empty(); })) {
            process.send(SIGTERM);
        }
        CHECK(process.end().code == 143);
        CHECK(differences(before, snapshot(place.folder())).empty());
    }
}

TEST_CASE("of several scenes the finished ones stay") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "first.toml", SceneText{}.text());
    SceneText large;
    large.passes = "";
    large.image = "px_per_mm = 200.0\n";
    write_file(place / "second.toml", large.text());
    Setup setup;
    setup.stderr_is_terminal = true;
    Process process(command_line({"render", place / "first.toml", place / "second.toml", "--out",
                                  place / "out"}),
                    own_folders(setup));
    // Both are at work at a time; the small one is done long before the large one.
    const auto first_is_done = [&] { return fs::exists(place / "out/first/manifest.json"); };
    if (process.wait_for(
            [&] { return contains(process.err(), "second: rendering") && first_is_done(); })) {
        process.send(SIGINT);
    }
    CHECK(process.end().code == 130);
    CHECK(fs::exists(place / "out/first/manifest.json"));
    CHECK_FALSE(fs::exists(place / "out/second"));
}

TEST_SUITE_END();
