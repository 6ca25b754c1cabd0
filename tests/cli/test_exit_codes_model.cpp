// Exit code 4: what is no model, and imports that leave their limits.

#include <sys/stat.h>

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// A text that no importer reads in a moment: so many triangles, three numbers a corner.
void write_big_stl(const fs::path& file, int triangles) {
    std::string text = "solid big\n";
    for (int i = 0; i < triangles; ++i) {
        const std::string x = std::to_string(i % 1000) + "." + std::to_string(i % 97);
        text += "facet normal 0 0 1\nouter loop\nvertex " + x + " 0 0\nvertex " + x +
                " 1 0.5\nvertex " + x + " 0 1.25\nendloop\nendfacet\n";
    }
    write_file(file, text + "endsolid big\n");
}

}  // namespace

TEST_SUITE_BEGIN("cli.exit_codes");

TEST_CASE("what is no model ends with 4 and says what it is instead") {
    const Place place;
    write_file(place / "empty.ply", "");
    write_file(place / "garbage.ply", std::string("\x93\x00\xff"
                                                  "crumbs of shale",
                                                  18));
    write_file(place / "garbage.shale", "crumbs");
    write_file(place / "garbage", "crumbs");
    write_file(place / "points.ply",
               "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
               "property float z\nend_header\n0 0 0\n1 0 0\n0 1 0\n");
    fs::create_directory(place / "folder.ply");
    REQUIRE(::mkfifo((place / "pipe.ply").c_str(), 0600) == 0);
    const auto inspect = [&](const std::string& name) {
        return rakelight({"inspect", place / name});
    };
    check_refused(inspect("none.ply"), 4, {"none.ply", "no such file"});
    check_refused(inspect("empty.ply"), 4, {"empty.ply", "the file is empty"});
    check_refused(inspect("garbage.ply"), 4, {"garbage.ply", "cannot be read"});
    check_refused(inspect("garbage.shale"), 4, {".shale", "not known", ".ply"});
    check_refused(inspect("garbage"), 4, {"garbage", "extension"});
    check_refused(inspect("points.ply"), 4, {"points.ply", "no triangles", "3"});
    check_refused(inspect("folder.ply"), 4, {"folder.ply", "this is a folder"});
    check_refused(inspect("pipe.ply"), 4, {"pipe.ply", "pipe"});
}

TEST_CASE("every command that loads a model ends with 4 when there is none, and writes nothing") {
    const Place place;
    write_file(place / "scene.toml", SceneText{}.text());
    for (const std::string command : {"check", "render", "lock"}) {
        check_refused(rakelight({command, place / "scene.toml"}), 4, {"model.ply", "no such file"});
    }
    check_refused(rakelight({"draft", place / "model.ply", "-o", place / "new.toml"}), 4,
                  {"model.ply"});
    CHECK(snapshot(place.folder()).size() == 1);
}

TEST_CASE("an import that leaves its limits ends with 4 and names the limit") {
    const Place place;
    write_big_stl(place / "big.stl", 400000);
    const auto inspect = [&](const std::string& option, const std::string& value) {
        return rakelight({"inspect", place / "big.stl", "--no-cache", option, value});
    };
    CHECK(inspect("--import-memory-mib", "4096").code == 0);
#ifndef __SANITIZE_ADDRESS__  // its address space is not limited
    check_refused(inspect("--import-memory-mib", "150"), 4, {"big.stl", "memory", "150 MiB"});
#endif
}

TEST_CASE("an import that takes too long ends with 4 and names the limit") {
    const Place place;
    // Larger until one second is not enough on this machine.
    for (int triangles = 1000000; triangles <= 16000000; triangles *= 4) {
        write_big_stl(place / "big.stl", triangles);
        const Ended cpu =
            rakelight({"inspect", place / "big.stl", "--no-cache", "--import-cpu-s", "1"});
        const Ended wall =
            rakelight({"inspect", place / "big.stl", "--no-cache", "--import-wall-s", "1"});
        if (cpu.code == 0 || wall.code == 0) continue;  // several cores: less wall than CPU time
        check_refused(cpu, 4, {"big.stl", "1 s of CPU time", "raise"});
        check_refused(wall, 4, {"big.stl", "longer than 1 s", "raise"});
        CHECK(fs::is_empty(root_folder() / "tmp"));
        return;
    }
    FAIL("no file was large enough");
}

TEST_SUITE_END();
