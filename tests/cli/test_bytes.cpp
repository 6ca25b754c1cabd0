// "The same input gives the same bytes": by comparing files.

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

struct Medal {
    Place place;
    std::string file;
    Medal() {
        write_ply(place / "model.ply", crooked());
        SceneText scene;
        scene.blank += "rim_mm = 1.0\n";
        scene.pose = "yaw_deg = 21\npitch_deg = 9\n";
        scene.passes = "";  // all the usual ones
        write_file(place / "scene.toml", scene.text());
        file = place / "scene.toml";
    }
    Snapshot files(const std::string& name) const { return lasting_files(place / name); }
    Snapshot rendered(const std::string& name, const Setup& setup = {}, Words more = {}) const {
        more.insert(more.begin(), {"render", file, "--out", place / name});
        const Ended ended = rakelight(more, setup);
        INFO(ended.err);
        REQUIRE(ended.code == 0);
        return files(name);
    }
};

}  // namespace

TEST_SUITE_BEGIN("cli.bytes");

TEST_CASE("two runs give the same files, the manifest and the proof included") {
    const Medal medal;
    const Snapshot first = medal.rendered("first");
    CHECK(first.size() == 11);  // six passes, three of the blank, the proof, the manifest
    CHECK(differences(first, medal.rendered("second")).empty());
    CHECK(differences(first, medal.rendered("first")).empty());  // over its own files
    CHECK(differences(first, medal.rendered("other", {}, {"--set", "pose.yaw_deg=22"})).size() >=
          7);
}

TEST_CASE("threads and processors change no byte") {
    const Medal medal;
    const Snapshot plain = medal.rendered("plain");
    for (const char* threads : {"0", "1", "2"}) {
        Setup setup;
        setup.env["LP_NUM_THREADS"] = threads;
        CHECK(differences(plain, medal.rendered(std::string("lp-") + threads, setup)).empty());
    }
    if (installed("taskset").empty()) {
        MESSAGE("taskset is not installed");
        return;
    }
    Words words = command_line({"render", medal.file, "--out", medal.place / "pinned"});
    words.insert(words.begin(), {"taskset", "-c", "0"});
    CHECK(run(words, own_folders()).code == 0);
    CHECK(differences(plain, medal.files("pinned")).empty());
}

TEST_CASE("threads change no byte of what is found along whole lines of sight") {
    const Place place;
    write_obj(place / "model.obj", crooked(),
              moved(crooked(), glm::dmat3(0.6, 0, -0.8, 0, 1, 0, 0.8, 0, 0.6), {2, -4, -7}));
    SceneText scene;
    scene.model = "file = \"model.obj\"\nup = \"+y\"\n";
    scene.pose = "yaw_deg = 10\npitch_deg = 25\n";
    scene.passes = "[pass.undercut]\n[pass.steep]\n[pass.parts]\nnames = [\"*\"]\ndepth = true\n";
    const Rendered plain = render(place, scene);
    CHECK(plain.numbers("undercut").at("most_mm") > 0.5);
    if (installed("taskset").empty()) {
        MESSAGE("taskset is not installed");
        return;
    }
    Words words =
        command_line({"render", place / "scene.toml", "--out", place / "pinned", "--no-proof"});
    words.insert(words.begin(), {"taskset", "-c", "0"});
    CHECK(run(words, own_folders()).code == 0);
    const Snapshot files = lasting_files(plain.folder);
    CHECK(files.size() == 7);  // two passes, two masks, two depths, the manifest
    CHECK(differences(files, lasting_files(place / "pinned")).empty());
}

TEST_CASE("neither folders nor paths nor the cache change a byte") {
    const Medal medal;
    const Snapshot plain = medal.rendered("plain");
    Setup inside;
    inside.cwd = medal.place.folder();
    CHECK(rakelight({"render", "scene.toml", "--out", "relative"}, inside).code == 0);
    CHECK(differences(plain, medal.files("relative")).empty());
    fs::create_directories(medal.place / "deep/down");
    inside.cwd = medal.place / "deep/down";
    CHECK(rakelight({"render", "../../scene.toml", "--out", "../out"}, inside).code == 0);
    CHECK(differences(plain, medal.files("deep/out")).empty());
    CHECK(differences(plain, medal.rendered("uncached", {}, {"--no-cache"})).empty());
    Setup fresh;
    fresh.env["XDG_CACHE_HOME"] = medal.place / "fresh-cache";
    CHECK(differences(plain, medal.rendered("fresh", fresh)).empty());
    fs::create_directory_symlink(medal.place.folder(), medal.place / "link");
    CHECK(rakelight({"render", medal.place / "link/scene.toml", "--out", medal.place / "linked"})
              .code == 0);
    CHECK(differences(plain, medal.files("linked")).empty());
}

TEST_CASE("scenes rendered together are the same as one by one") {
    const Medal medal;
    write_ply(medal.place / "ball.ply", sphere(5, 10));
    SceneText other;
    other.model = "file = \"ball.ply\"\nup = \"+y\"\n";
    other.blank = "shape = \"tag\"\nwidth_mm = 14\nheight_mm = 22\nrim_mm = 1\n";
    other.passes = "[pass.occlusion]\n[pass.depth]\n[pass.curvature]\n";
    write_file(medal.place / "tag.toml", other.text());
    const std::string tag = medal.place / "tag.toml";
    const fs::path& folder = medal.place.folder();
    REQUIRE(rakelight({"render", tag, medal.file, "--out", folder / "both"}).code == 0);
    REQUIRE(rakelight({"render", tag, "--out", folder / "tag-alone"}).code == 0);
    const Snapshot alone = medal.rendered("alone");
    CHECK(differences(alone, medal.files("both/scene")).empty());
    CHECK(differences(medal.files("tag-alone"), medal.files("both/tag")).empty());
}

TEST_SUITE_END();
