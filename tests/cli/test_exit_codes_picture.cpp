// Exit code 7: pictures that nobody can use.

#include <cmath>
#include <regex>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

std::uint64_t count_before(const std::string& text, const std::string& words) {
    std::smatch found;
    REQUIRE(std::regex_search(text, found, std::regex("(\\d+) " + words)));
    return std::stoull(found[1]);
}

double number_after(const std::string& text, const std::string& words) {
    std::smatch found;
    REQUIRE(std::regex_search(text, found, std::regex(words + " (-?[0-9.e+-]+)")));
    return std::stod(found[1]);
}

// The setting that the message advises, as --set takes it.
std::string advised(const std::string& text) {
    std::smatch found;
    REQUIRE(std::regex_search(text, found, std::regex("widen it to (.*), or set")));
    return std::regex_replace(found[1].str(), std::regex(" = "), "=");
}

}  // namespace

TEST_SUITE_BEGIN("cli.exit_codes");

TEST_CASE("a subject outside of the picture, or on the rim alone, ends with 7") {
    const Place place;
    write_ply(place / "model.ply", plate(0.5, 0.5));
    SceneText scene;
    scene.blank += "rim_mm = 3.0\n";
    write_file(place / "scene.toml", scene.text());
    const auto shifted = [&](const std::string& shift) {
        return rakelight({"render", place / "scene.toml", "--set", "framing.shift_mm=" + shift});
    };
    check_refused(shifted("[30, 0]"), 7, {"nothing is in the picture", "shift_mm"});
    check_refused(shifted("[0, 11]"), 7, {"nothing is in the picture", "shift_mm"});
    check_refused(shifted("[8.5, 0]"), 7, {"nothing is in the field", "rim"});
    CHECK_FALSE(fs::exists(place / "scene-passes"));
    CHECK(shifted("[7.2, 0]").code == 0);  // 0.3 mm of it in the field
}

TEST_CASE("a flat subject seen edge-on is told by check and ends a render with 7") {
    const Place place;
    write_ply(place / "model.ply", plate(4, 2));
    SceneText scene;
    write_file(place / "scene.toml", scene.text());
    const auto turned = [&](const std::string& command, const std::string& yaw) {
        return rakelight({command, place / "scene.toml", "--set", "pose.yaw_deg=" + yaw});
    };
    check_refused(turned("render", "90"), 7, {"edge-on", "yaw_deg"});
    CHECK_FALSE(fs::exists(place / "scene-passes"));
    CHECK(contains(turned("check", "90").err, "edge-on"));
    // A degree off, 8 mm of it are 0.14 mm wide.
    CHECK(turned("render", "89").code == 0);
    CHECK_FALSE(contains(turned("check", "89").err, "edge-on"));
}

TEST_CASE(
    "a fixed depth range that clips ends with 7, with the count and the range that would do") {
    const Place place;
    write_ply(place / "model.ply", plate(6, 4, 0.5, 0.0));  // z from -3 to 3
    SceneText scene;
    scene.passes = "[pass.depth]\nrange_mm = [-2.0, 3.5]\nnear_margin = 0.0\nfar_margin = 0.0\n";
    write_file(place / "scene.toml", scene.text());
    const Ended ended = rakelight({"render", place / "scene.toml"});
    check_refused(ended, 7, {"depth", "allow_clipping"});
    // Pixels 0.1 mm wide; those whose centre lies beyond x = 4 have their depth z < -2: twenty
    // columns of 80 pixels. (Depth grows away from the viewer.)
    CHECK(count_before(ended.err, "pixels lie outside") == 20 * 80);
    const double low = number_after(ended.err, "min_mm");
    const double high = number_after(ended.err, "max_mm");
    // The outermost pixel centres lie 0.05 mm inside the plate's edge, where z is 2.975.
    CHECK(low == doctest::Approx(-2.975).epsilon(1e-4));
    CHECK(high == doctest::Approx(2.975).epsilon(1e-4));
    const std::string range = "pass.depth." + advised(ended.err);
    CAPTURE(range);
    CHECK_MESSAGE(rakelight({"render", place / "scene.toml", "--set", range}).code == 0,
                  "the range of the message does not do");
}

TEST_CASE("allow_clipping makes a clipped range a warning and cuts at the ends of the codes") {
    const Place place;
    write_ply(place / "model.ply", plate(6, 4, 0.5, 0.0));
    SceneText scene;
    scene.passes =
        "[pass.depth]\nrange_mm = [-2.0, 2.0]\nallow_clipping = true\n[pass.silhouette]\n";
    const Rendered rendered = render(place, scene);
    CHECK(contains(rendered.ended.err, "warning"));
    // The margins of 0.01 hold 0.0408 mm more on each side, the first column beyond 4 mm.
    CHECK(count_before(rendered.ended.err, "pixels lie outside") == 2 * 19 * 80);
    CHECK(rendered.manifest.at("warnings").size() == 1);
    CHECK(rendered.manifest.at("passes").at(0).at("clipped") == 2 * 19 * 80);
    const Picture depth = read_picture(rendered.folder / "depth.png");
    const Picture silhouette = read_picture(rendered.folder / "silhouette.png");
    for (std::size_t i = 0; i < depth.codes.size(); ++i) {
        if ((depth.codes[i] == 0) != (silhouette.codes[i] == 0)) {
            FAIL_CHECK("code 0 inside the subject, or none outside, at " << i);
            break;
        }
    }
}

TEST_CASE("a fixed largest curvature that clips ends with 7, with the curvature that would do") {
    const Place place;
    write_ply(place / "model.ply", sphere(5, 24));  // 1/r = 0.2 per mm
    SceneText scene;
    scene.passes = "[pass.curvature]\nh_max_per_mm = 0.01\n";
    write_file(place / "scene.toml", scene.text());
    const std::string file = place / "scene.toml";
    const Ended ended = rakelight({"render", file});
    check_refused(ended, 7, {"curvature", "allow_clipping"});
    const double largest = number_after(ended.err, "max_per_mm");
    CHECK(largest > 0.19);
    CHECK(count_before(ended.err, "pixels lie outside") > 3000);
    CHECK(rakelight({"render", file, "--set", "pass.curvature.allow_clipping=true"}).code == 0);
    const std::string set = "pass.curvature." + advised(ended.err);
    CAPTURE(set);
    CHECK_MESSAGE(rakelight({"render", file, "--set", set}).code == 0,
                  "the curvature of the message does not do");
}

TEST_CASE("a fixed undercut range that clips ends with 7, with the count and the range") {
    const Place place;
    // A roof of 2 x 2 mm, 3 mm over the ground, open sheets both.
    write_ply(place / "model.ply",
              joined(plate(5, 5), moved(plate(1, 1), glm::dmat3(1), {0, 0, 3})));
    SceneText scene;
    scene.passes = "[pass.undercut]\nmost_mm = 2.5\n";
    write_file(place / "scene.toml", scene.text());
    const Ended ended = rakelight({"render", place / "scene.toml"});
    check_refused(ended, 7, {"undercut", "allow_clipping"});
    CHECK(count_before(ended.err, "pixels lie outside") == 20 * 20);
    CHECK(number_after(ended.err, "max_mm") == doctest::Approx(3.0).epsilon(1e-5));
    const std::string set = "pass.undercut." + advised(ended.err);
    CHECK(rakelight({"render", place / "scene.toml", "--set", set}).code == 0);
    const Ended allowed =
        rakelight({"render", place / "scene.toml", "--set", "pass.undercut.allow_clipping=true"});
    CHECK(allowed.code == 0);
    CHECK(contains(allowed.err, "400 pixels lie outside"));
    CHECK(contains(allowed.out, "4.0 % of it hides something, down to 3.00 mm behind; 12 mm3"));
}

TEST_SUITE_END();
