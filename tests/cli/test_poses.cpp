// Many poses in one command: what is tried and written, what is not done twice, and that shards
// join to the bytes of the whole.

#include <sys/stat.h>

#include <algorithm>
#include <csignal>
#include <sstream>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

SceneText crooked_scene() {
    SceneText scene;
    scene.framing = "margin_mm = 1.0\n";
    scene.more = "[poses]\nyaw_deg = [0, 30]\npitch_deg = [-10, 0, 10]\n";
    return scene;
}

struct Sweep {
    Place place;
    std::string file = place / "scene.toml";
    std::string out = place / "out";

    std::string px = "80";

    explicit Sweep(const SceneText& scene = crooked_scene(), const Model& model = crooked()) {
        write_ply(place / "model.ply", model);
        write_file(file, scene.text());
    }
    Ended run(Words more = {}, const Setup& setup = {}) const {
        Words words{"poses", file, "--out", out, "--longer-px", px};
        words.insert(words.end(), more.begin(), more.end());
        return rakelight(words, setup);
    }
    /// The events of the poses, by name.
    std::map<std::string, Json> poses(Words more = {}) const {
        more.push_back("--json");
        const Ended ended = run(more);
        CAPTURE(ended.err);
        REQUIRE(ended.code == 0);
        std::map<std::string, Json> found;
        std::istringstream lines(ended.out);
        for (std::string line; std::getline(lines, line);) {
            const Json event = Json::parse(line);
            if (event.at("event") == "pose") found[event.at("name")] = event;
        }
        return found;
    }
    Json record(const std::string& pose) const {
        return Json::parse(read_file(fs::path(out) / pose / "pose.json"));
    }
    std::map<std::string, std::string> states(const Words& more = {}) const {
        std::map<std::string, std::string> found;
        for (const auto& [name, event] : poses(more)) found[name] = event.at("state");
        return found;
    }
};

std::size_t count_of(const std::map<std::string, std::string>& states, const std::string& state) {
    return static_cast<std::size_t>(std::count_if(
        states.begin(), states.end(), [&](const auto& one) { return one.second == state; }));
}

std::map<std::string, std::int64_t> times_of(const fs::path& folder) {
    std::map<std::string, std::int64_t> times;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
        struct stat facts {};
        if (entry.is_regular_file() && ::stat(entry.path().c_str(), &facts) == 0)
            times[entry.path()] = facts.st_mtim.tv_sec * 1000000000LL + facts.st_mtim.tv_nsec;
    }
    return times;
}

}  // namespace

TEST_SUITE_BEGIN("cli.poses");

TEST_CASE("each pose gets a folder with a record, and is what render makes of it") {
    Sweep sweep;
    sweep.px = "0";
    const auto poses = sweep.poses({"--passes"});
    REQUIRE(poses.size() == 6);
    const Json record = sweep.record("yaw30_pitch-10");
    CHECK(record.at("number") == 3);
    CHECK(record.at("of") == 6);
    CHECK(record.at("pose").at("yaw_deg") == 30.0);
    CHECK(record.at("pose").at("pitch_deg") == -10.0);
    CHECK(record.at("figures").at("depth_mm") ==
          poses.at("yaw30_pitch-10").at("figures").at("depth_mm"));
    const Rendered alone = render(sweep.file, sweep.place / "alone",
                                  {"--set", "pose.yaw_deg=30", "--set", "pose.pitch_deg=-10"});
    const Snapshot of_sweep = lasting_files(fs::path(sweep.out) / "yaw30_pitch-10");
    for (const auto& [name, bytes] : lasting_files(alone.folder)) {
        CAPTURE(name);
        REQUIRE(of_sweep.contains(name));
        CHECK((of_sweep.at(name) == bytes));
    }
    CHECK(record.at("figures").at("field_share") == alone.manifest.at("subject").at("field_share"));
}

TEST_CASE("what is unchanged is not done again, and not touched") {
    const Sweep sweep;
    CHECK(count_of(sweep.states(), "rendered") == 6);
    const auto before = times_of(sweep.out);
    CHECK(count_of(sweep.states(), "unchanged") == 6);
    CHECK((times_of(sweep.out) == before));
    write_file(sweep.file, "# a remark\n" + crooked_scene().text());
    CHECK(count_of(sweep.states(), "unchanged") == 6);
    CHECK(count_of(sweep.states({"--again"}), "rendered") == 6);

    // One more pose: only that one is new, and the others know of it.
    CHECK(count_of(sweep.states({"--yaw=0,30", "--pitch=-10,0,10,20"}), "unchanged") == 6);
    CHECK(sweep.record("yaw30_pitch-10").at("number") == 4);
    CHECK(sweep.record("yaw30_pitch-10").at("of") == 8);

    // A file that is gone, another model, other settings.
    fs::remove(fs::path(sweep.out) / "yaw0_pitch0" / "pose.json");
    CHECK(count_of(sweep.states(), "rendered") == 1);
    CHECK(count_of(sweep.states({"--set", "blank.rim_mm=1"}), "rendered") == 6);
    write_ply(sweep.place / "model.ply", joined(crooked(), plate(1, 1)));
    CHECK(count_of(sweep.states({"--set", "blank.rim_mm=1"}), "rendered") == 6);
}

TEST_CASE("a dry run says what would be done and writes nothing") {
    const Sweep sweep;
    CHECK(count_of(sweep.states({"--dry-run"}), "rendered") == 6);
    CHECK_FALSE(fs::exists(sweep.out));
    CHECK(count_of(sweep.states({"--yaw=0"}), "rendered") == 1);
    const auto states = sweep.states({"--dry-run", "--yaw=0,10"});
    CHECK(states.at("yaw0") == "unchanged");
    CHECK(states.at("yaw10") == "rendered");
}

TEST_CASE("a pose of which nothing shows is told of, and the others go on") {
    SceneText scene = crooked_scene();
    scene.more = "[poses]\nyaw_deg = [0, 90]\n";
    const Sweep sweep(scene, plate(4, 3));
    const auto poses = sweep.poses();
    CHECK(poses.at("yaw0").at("state") == "rendered");
    CHECK(poses.at("yaw90").at("state") == "unusable");
    CHECK(contains(poses.at("yaw90").at("reason"), "edge-on"));
    CHECK(sweep.record("yaw90").at("usable") == false);
    CHECK(sweep.poses().at("yaw90").at("state") == "unusable");
}

TEST_CASE("shards write the bytes of the whole, and any of them may fail and run again") {
    const Sweep whole;
    REQUIRE(whole.run({"--passes"}).code == 0);
    const Snapshot expected = lasting_files(whole.out);
    const Sweep parts;
    std::size_t tried = 0;
    for (const std::string shard : {"2/4", "4/4", "1/4", "3/4", "3/4"})
        tried += parts.poses({"--passes", "--shard", shard}).size();
    CHECK(tried == 2 + 1 + 2 + 1 + 1);
    REQUIRE(rakelight({"gallery", parts.out}).code == 0);
    const auto other = differences(lasting_files(parts.out), expected);
    CHECK_MESSAGE(other.empty(), (other.empty() ? "" : other.front()));
}

TEST_CASE("one range: the depths of all poses share one scale, and none clips") {
    const Sweep sweep;
    REQUIRE(sweep.run({"--passes", "--one-range"}).code == 0);
    double near_mm = 1e9, far_mm = -1e9;
    std::set<std::string> ranges;
    for (const auto& entry : fs::directory_iterator(sweep.out)) {
        if (!entry.is_directory()) continue;
        const Json manifest = Json::parse(read_file(entry.path() / "manifest.json"));
        const Json& depth = manifest.at("passes").at(0);
        REQUIRE(depth.at("name") == "depth");
        CHECK(depth.at("clipped") == 0);
        ranges.insert(depth.at("numbers").at("near_mm").dump() + " " +
                      depth.at("numbers").at("far_mm").dump());
        near_mm = std::min(near_mm, manifest.at("subject").at("near_mm").get<double>());
        far_mm = std::max(far_mm, manifest.at("subject").at("far_mm").get<double>());
    }
    REQUIRE(ranges.size() == 1);
    CHECK(*ranges.begin() == Json(near_mm).dump() + " " + Json(far_mm).dump());
}

TEST_CASE("one range for a series of scenes: what each of them shows lies in it") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    write_file(place / "front.toml", scene.text());
    scene.pose = "yaw_deg = 70.0\n";
    write_file(place / "side.toml", scene.text());
    const std::string out = place / "out";
    REQUIRE(rakelight({"render", place / "front.toml", place / "side.toml", "--out", out,
                       "--no-proof", "--one-range"})
                .code == 0);
    std::set<std::string> ranges;
    double near_mm = 1e9, far_mm = -1e9;
    for (const char* name : {"front", "side"}) {
        const Json manifest = Json::parse(read_file(fs::path(out) / name / "manifest.json"));
        const Json& numbers = manifest.at("passes").at(0).at("numbers");
        ranges.insert(numbers.at("near_mm").dump() + " " + numbers.at("far_mm").dump());
        near_mm = std::min(near_mm, manifest.at("subject").at("near_mm").get<double>());
        far_mm = std::max(far_mm, manifest.at("subject").at("far_mm").get<double>());
    }
    CHECK(ranges == std::set<std::string>{Json(near_mm).dump() + " " + Json(far_mm).dump()});
}

TEST_CASE("a sweep that is broken off goes on where it stopped") {
    SceneText scene = crooked_scene();
    scene.more = "[poses]\nyaw_deg = { from = 0, to = 89, step = 1 }\n";
    Sweep sweep(scene);
    sweep.px = "150";
    Setup setup;
    setup.stderr_is_terminal = true;
    Process process(
        command_line({"poses", sweep.file, "--out", sweep.out, "--longer-px", sweep.px}),
        own_folders(setup));
    REQUIRE(process.wait_for([&] { return contains(process.err(), "9/90"); }));
    process.send(SIGINT);
    const Ended ended = process.end();
    CHECK(ended.code == 130);
    std::size_t kept = 0;
    for (const auto& entry : fs::directory_iterator(sweep.out)) {
        // Whole or not at all.
        const bool whole = fs::exists(entry.path() / "pose.json");
        kept += whole ? 1 : 0;
        CHECK((whole || fs::is_empty(entry.path())));
    }
    CHECK(kept >= 9);
    CHECK(kept < 90);
    const auto states = sweep.states();
    CHECK(count_of(states, "unchanged") == kept);
    CHECK(count_of(states, "rendered") == 90 - kept);
}

TEST_CASE("a pose is locked by its name") {
    const Sweep sweep;
    REQUIRE(sweep.run().code == 0);
    REQUIRE(rakelight({"lock", sweep.file, "--pose", "yaw30_pitch10"}).code == 0);
    const std::string locked = read_file(sweep.file);
    CHECK(contains(locked, "yaw_deg = 30.0"));
    const Rendered picture = render(sweep.file, sweep.place / "locked");
    CHECK(picture.manifest.at("camera").at("locked") == true);
    CHECK(picture.manifest.at("warnings").empty());

    // One that only the sweep knows, by its record.
    const Ended given =
        rakelight({"poses", sweep.file, "--out", sweep.out, "--longer-px", "80", "--yaw=77"});
    REQUIRE(given.code == 0);
    check_refused(rakelight({"lock", sweep.file, "--again", "--pose", "yaw77"}), 2,
                  {"--pose yaw77", "found no such pose", "yaw0_pitch-10"});
    CHECK(rakelight({"lock", sweep.file, "--again", "--pose", "yaw77", "--from", sweep.out}).code ==
          0);
    CHECK(contains(read_file(sweep.file), "yaw_deg = 77.0"));
}

TEST_CASE("proposals are tried as any other pose, and are the same each time") {
    const Sweep sweep;
    const auto poses = sweep.poses({"--propose", "4"});
    REQUIRE(!poses.empty());
    CHECK(poses.size() <= 4);
    CHECK(poses.contains("proposal-01"));
    const auto again = sweep.states({"--propose", "4"});
    CHECK(count_of(again, "unchanged") == poses.size());
    CHECK(rakelight({"lock", sweep.file, "--pose", "proposal-01", "--from", sweep.out}).code == 0);
    check_refused(sweep.run({"--propose", "4", "--yaw=3"}), 2, {"--propose", "ranges"});
}

TEST_CASE("wrong use of poses says what was found and what is expected") {
    const Sweep sweep;
    struct Wrong {
        Words words;
        Words said;
    };
    const std::vector<Wrong> cases{
        {{"--yaw=abc"}, {"--yaw", "\"abc\"", "-60..60/20"}},
        {{"--yaw=1..2"}, {"--yaw", "\"1..2\""}},
        {{"--yaw=1..5/x"}, {"--yaw", "\"1..5/x\""}},
        {{"--shard", "3/2"}, {"--shard", "\"3/2\"", "K/N"}},
        {{"--shard", "0/2"}, {"--shard", "\"0/2\""}},
        {{"--by", "beauty", "--best", "2"}, {"--by", "beauty", "field_share"}},
    };
    for (const auto& [words, said] : cases) {
        CAPTURE(words.front());
        check_refused(sweep.run(words), 2, said);
    }
    check_refused(sweep.run({"--yaw=5..1/1"}), 3, {"poses.yaw_deg", "from no larger than to"});
    write_file(sweep.file, SceneText().text());
    check_refused(sweep.run(), 2, {"no poses to try", "[poses]", "--yaw", "--propose"});
    CHECK_FALSE(fs::exists(sweep.out));
}

// docs/poses.md: heights are shares of 0.05 of the field's shorter side, here 1 mm of 20.
TEST_CASE("a pose of a scene with a relief is shown as that relief, passes or not") {
    SceneText scene = with_relief(
        "height_mm = 0.8\n[[relief.layer]]\nsource = \"depth\"\n[[relief.layer]]\n"
        "source = \"occlusion\"\nmix = \"multiply\"\nopacity = 0.5\n");
    scene.framing = "margin_mm = 1.0\n";
    const Sweep sweep(scene);
    const Words turned{"--yaw=20"};
    REQUIRE(sweep.run(turned).code == 0);
    const fs::path pose = fs::path(sweep.out) / "yaw20";
    const std::string piece = read_file(pose / "piece.png");
    const std::string surface = read_file(pose / "surface.png");
    REQUIRE(sweep.run({"--yaw=20", "--passes"}).code == 0);
    CHECK(read_file(pose / "piece.png") == piece);
    CHECK(read_file(pose / "surface.png") == surface);

    const Picture relief = read_picture(pose / "relief.png");
    const Picture planes = read_picture(pose / "surface.png", 8);
    REQUIRE(relief.width == 80);
    REQUIRE(planes.height == 5 * relief.height);
    int raised = 0;
    for (int y = 0; y < 80; ++y) {
        for (int x = 0; x < 80; ++x) {
            if (std::hypot(x - 39.5, y - 39.5) > 34.0) continue;  // the blank's rounded edge
            const double height_mm = 0.8 * relief.at(x, y) / 65535.0;
            CHECK(planes.at(x, y + 4 * 80) ==
                  doctest::Approx(255.0 * height_mm).scale(1.0).epsilon(0.51));
            CHECK(planes.at(x, y + 3 * 80) == 255);
            raised += height_mm > 0.1;
        }
    }
    CHECK(raised > 500);
}

TEST_SUITE_END();
