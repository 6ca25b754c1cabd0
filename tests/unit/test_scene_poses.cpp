// [poses]: what is tried, in which order and under which name; and a pose taken over into the text.

#include "scene/pose_text.hpp"

#include <cmath>
#include <set>

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

std::vector<std::string> names_of(const std::string& poses) {
    std::vector<std::string> names;
    for (const auto& candidate : pose_candidates(parse(smallest + poses)))
        names.push_back(candidate.name);
    return names;
}

std::vector<double> yaws_of(const std::string& values) {
    return parse(smallest + "[poses]\nyaw_deg = " + values + "\n").poses.yaw_deg;
}

PoseCandidate turned(double yaw_deg, double pitch_deg, double zoom = 1.0) {
    PoseCandidate candidate;
    candidate.pose.yaw_deg = yaw_deg;
    candidate.pose.pitch_deg = pitch_deg;
    candidate.zoom = zoom;
    return candidate;
}

std::string posed(const std::string& text, const PoseCandidate& candidate) {
    return with_pose(text, parse(text), candidate, "medal.toml");
}

}  // namespace

TEST_CASE("poses: a scene without any has no candidates") {
    CHECK(pose_candidates(parse(smallest)).empty());
    CHECK(pose_candidates(parse(smallest + "[poses]\n")).empty());
}

TEST_CASE("poses: values in each of their forms") {
    CHECK(yaws_of("30") == std::vector<double>{30});
    CHECK(yaws_of("[20, -5.5, 0]") == std::vector<double>{20, -5.5, 0});
    CHECK(yaws_of("{ from = -60, to = 60, step = 40 }") == std::vector<double>{-60, -20, 20, 60});
    CHECK(yaws_of("{ from = 0, to = 50, step = 20 }") == std::vector<double>{0, 20, 40});
    CHECK(yaws_of("{ from = 7, to = 7, step = 1 }") == std::vector<double>{7});
    // Steps that no double holds: each value is the decimal that was meant.
    const auto tenths = yaws_of("{ from = -0.3, to = 0.3, step = 0.1 }");
    CHECK(tenths == std::vector<double>{-0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3});
    CHECK_FALSE(std::signbit(tenths[3]));
}

TEST_CASE("poses: named ones first, then all combinations, the first key slowest") {
    CHECK(names_of("[poses]\nyaw_deg = [0, 20]\npitch_deg = [-15, 5]\n[[poses.named]]\n"
                   "name = 'front'\n[[poses.named]]\nname = 'side.2'\nyaw_deg = 90\n") ==
          std::vector<std::string>{"front", "side.2", "yaw0_pitch-15", "yaw0_pitch5",
                                   "yaw20_pitch-15", "yaw20_pitch5"});
    CHECK(names_of("[poses]\nroll_deg = 10\nzoom = [1, 1.25]\n") ==
          std::vector<std::string>{"roll10_zoom1", "roll10_zoom1.25"});
}

TEST_CASE("poses: what a candidate leaves out is the scene's own") {
    const Scene scene = parse(smallest +
                              "[pose]\nyaw_deg = 5\npitch_deg = -7\nprojection = 'perspective'\n"
                              "view_deg = 20\n[framing]\nzoom = 1.5\n[poses]\nyaw_deg = [0, 30]\n"
                              "[[poses.named]]\nname = 'a'\nroll_deg = 3\n");
    const auto all = pose_candidates(scene);
    REQUIRE(all.size() == 3);
    CHECK(all[0].pose.yaw_deg == 5);
    CHECK(all[0].pose.roll_deg == 3);
    CHECK(all[2].pose.yaw_deg == 30);
    for (const auto& candidate : all) {
        CHECK(candidate.pose.pitch_deg == -7);
        CHECK(candidate.pose.projection == Projection::perspective);
        CHECK(candidate.pose.view_deg == 20);
        CHECK(candidate.zoom == 1.5);
    }
}

TEST_CASE("poses: faults say where, what was found and what was expected") {
    struct Wrong {
        std::string poses;
        std::vector<std::string> words;
    };
    const std::vector<Wrong> cases{
        {"yaw = 3", {"medal.toml:5:1: [poses] yaw", "unknown key", "yaw_deg"}},
        {"yaw_deg = 'x'", {"5:11: [poses] yaw_deg", "the text \"x\"", "an array of different"}},
        {"yaw_deg = []", {"5:11", "no value"}},
        {"yaw_deg = [1, 2, 1]", {"5:11", "1 twice"}},
        {"yaw_deg = [1, 'a']", {"5:11", "an array"}},
        {"yaw_deg = { from = 1, to = 2 }", {"5:11", "a table", "step"}},
        {"yaw_deg = { from = 1, to = 2, step = 0 }", {"5:11", "a table", "a step above 0"}},
        {"yaw_deg = { from = 2, to = 1, step = 1 }", {"from no larger than to"}},
        {"yaw_deg = { from = 0, to = inf, step = 1 }", {"5:11", "a table"}},
        {"yaw_deg = { from = 0, to = 1e6, step = 1 }", {"more than 10000 values"}},
        {"yaw_deg = { from = 0, to = 1e300, step = 1e-300 }", {"more than 10000 values"}},
        {"zoom = [0]", {"5:8: [poses] zoom", "found 0", "above 0"}},
        {"view_deg = 30", {"5:12", "parallel projection", "perspective"}},
        {"named = 3", {"5:9", "an array of tables", "[[poses.named]]"}},
        {"[[poses.named]]\nyaw_deg = 3", {"[poses.named] name", "found nothing"}},
        {"[[poses.named]]\nname = 'a/b'", {"6:8", "\"a/b\"", "letters, digits"}},
        {"[[poses.named]]\nname = '..'", {"6:8", "no . or - first"}},
        {"[[poses.named]]\nname = 'a'\n[[poses.named]]\nname = 'a'", {"two poses called \"a\""}},
        {"yaw_deg = { from = 0, to = 5000, step = 1 }\npitch_deg = { from = 0, to = 5000, step = "
         "1 }",
         {"combinations", "at most a million"}}};
    for (const auto& [poses, words] : cases) {
        CAPTURE(poses);
        const std::string message = fault_of(smallest + "[poses]\n" + poses + "\n");
        CAPTURE(message);
        for (const auto& word : words) CHECK(contains(message, word));
    }
    // A named pose that is called as a combination is.
    const Scene twice = parse(smallest + "[poses]\nyaw_deg = 5\n[[poses.named]]\nname = 'yaw5'\n");
    CHECK_THROWS_AS(pose_candidates(twice), Error);
}

TEST_CASE("content: layout, order and what moves no picture make no other text") {
    const std::string scene = smallest + "[image]\npx_per_mm = 20\nsamples = 4\n";
    const std::string content = parse(scene).content;
    CHECK(content ==
          parse("# mine\n" + smallest + "\n[image] # here\nsamples=4\npx_per_mm = 20.0\n").content);
    CHECK(content == parse(scene + "[pose]\nyaw_deg = 3\n[poses]\nyaw_deg = 3\n").content);
    CHECK(content == parse(scene + "[output]\nfolder = 'x'\n").content);
    std::set<std::string> others{content};
    for (const char* key :
         {"image.px_per_mm", "blank.rim_mm", "framing.margin_mm", "pass.depth.near_margin"}) {
        others.insert(parse(scene, {{key, "0.5"}}).content);
    }
    others.insert(parse(scene, {{"model.file", "other.ply"}}).content);
    CHECK(others.size() == 6);
}

TEST_CASE("pose text: only what differs is written, and everything else stays") {
    const std::string scene =
        "# mine\n[blank]\n[pose]\nyaw_deg = 3 # deg\n  pitch_deg=1\n"
        "# next\n[model]\nfile = 'a'\n";
    CHECK(posed(scene, turned(3, 1)) == scene);
    CHECK(posed(scene, turned(20, -15)) ==
          "# mine\n[blank]\n[pose]\nyaw_deg = 20.0 # deg\n  pitch_deg=-15.0\n# next\n[model]\n"
          "file = 'a'\n");
    CHECK(posed(scene, turned(3, 1, 1.5)) == scene + "\n[framing]\nzoom = 1.5\n");
    CHECK(posed("[blank]\r\n[model]\r\nfile = 'a'\r\n[pose]\r\n", turned(1, 2)) ==
          "[blank]\r\n[model]\r\nfile = 'a'\r\n[pose]\r\nyaw_deg = 1.0\r\npitch_deg = 2.0\r\n");
}

TEST_CASE("pose text: what was written reads back as the pose") {
    PoseCandidate wanted = turned(-33.3, 1e-3, 0.75);
    wanted.pose.roll_deg = 12.125;
    wanted.pose.projection = Projection::perspective;
    wanted.pose.view_deg = 22.5;
    for (const std::string& text :
         {smallest, full_scene, smallest + "[ pose ]\n\"yaw_deg\" = 4\n'roll_deg' = 1",
          smallest + "[framing]\nzoom = 2 # large\n"}) {
        CAPTURE(text);
        const Scene scene = parse(posed(text, wanted));
        CHECK(scene.pose.yaw_deg == wanted.pose.yaw_deg);
        CHECK(scene.pose.pitch_deg == wanted.pose.pitch_deg);
        CHECK(scene.pose.roll_deg == wanted.pose.roll_deg);
        CHECK(scene.pose.projection == Projection::perspective);
        CHECK(scene.pose.view_deg == wanted.pose.view_deg);
        CHECK(scene.framing.zoom == wanted.zoom);
    }
}

TEST_CASE("pose text: a table that cannot be edited line by line is refused") {
    for (const std::string& text :
         {"pose = { yaw_deg = 1 }\n" + smallest, "pose.yaw_deg = 1\n" + smallest}) {
        CAPTURE(text);
        CHECK_THROWS_AS(posed(text, turned(2, 0)), Error);
        CHECK(posed(text, turned(1, 0)) == text);
    }
}
