// From a model to a first picture, and the mesh cache as a user sees it.

#include <cmath>

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

TEST_SUITE_BEGIN("cli.draft");

TEST_CASE("a drafted scene renders as it is") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    REQUIRE(rakelight({"draft", place / "model.ply", "-o", place / "medal.toml"}).code == 0);
    const Ended check = rakelight({"check", place / "medal.toml"});
    CHECK(contains(check.out,
                   "passes    depth, occlusion, curvature, silhouette, contour, normal, "
                   "blank\n"));
    const Ended more = rakelight({"check", place / "medal.toml", "--set", "pass.steep={}"});
    CHECK(contains(more.out, "normal, steep, blank; the processor draws them\n"));
    CHECK(check.code == 0);
    CHECK(check.err == "");
    const Ended ended = rakelight({"render", place / "medal.toml", "--set", "image.px_per_mm=5"});
    CHECK(ended.code == 0);
    CHECK(ended.err == "");
    CHECK(fs::exists(place / "medal-passes/proof.png"));
    const Ended printed = [&] {
        Setup inside;
        inside.cwd = place.folder();
        return rakelight({"draft", "model.ply"}, inside);
    }();
    CHECK(printed.code == 0);
    CHECK(printed.out == read_file(place / "medal.toml"));
}

TEST_CASE("a draft finds its model from any folder, whatever the names") {
    const Place place;
    const fs::path models = place / "the club's \"models\" [old] #1";
    const fs::path scenes = place / "sc\xc3\xa8nes & more\\";
    fs::create_directories(models);
    fs::create_directories(scenes / "new");
    write_ply(models / "am mo'nite.ply", crooked());
    Setup inside;
    inside.cwd = scenes;
    const std::string model = fs::path("..") / models.filename() / "am mo'nite.ply";
    REQUIRE(rakelight({"draft", model, "-o", "new/me dal.toml"}, inside).code == 0);
    const Words set{"--set", "image.px_per_mm=3"};
    CHECK(rakelight({"render", scenes / "new/me dal.toml", set[0], set[1]}).code == 0);
    CHECK(fs::exists(scenes / "new/me dal-passes/manifest.json"));
    inside.cwd = place.folder();
    const std::string out = "pictures of 'it'";
    CHECK(rakelight({"render", scenes / "new/me dal.toml", "--out", out, set[0], set[1]}, inside)
              .code == 0);
    CHECK(fs::exists(place / (out + "/depth.png")));
}

TEST_CASE("the second run takes the mesh from the cache; --no-cache does not and leaves none") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "scene.toml", SceneText{}.text());
    Setup setup;
    setup.env["XDG_CACHE_HOME"] = place / "cache";
    const auto from_cache = [&](Words more) {
        more.insert(more.begin(), {"render", place / "scene.toml", "--no-proof"});
        REQUIRE(rakelight(more, setup).code == 0);
        return Json::parse(read_file(place / "scene-passes/timings.json")).at("from_cache") == true;
    };
    CHECK_FALSE(from_cache({"--no-cache"}));
    CHECK_FALSE(fs::exists(place / "cache/rakelight"));
    CHECK_FALSE(from_cache({}));
    CHECK(fs::exists(place / "cache/rakelight"));
    CHECK(from_cache({}));
    CHECK_FALSE(from_cache({"--no-cache"}));
    CHECK_FALSE(from_cache({"--cache-folder", place / "elsewhere"}));
    CHECK(fs::exists(place / "elsewhere"));
    CHECK(from_cache({"--cache-folder", place / "elsewhere"}));
    write_ply(place / "model.ply", moved(crooked(), glm::dmat3(2.0)));
    CHECK_FALSE(from_cache({}));
    CHECK(from_cache({}));
    CHECK_FALSE(from_cache({"--set", "model.crease_deg=10"}));
}

TEST_CASE("the cache keeps within --cache-mib, the latest entry stays") {
    const Place place;
    Setup setup;
    setup.env["XDG_CACHE_HOME"] = place / "cache";
    const auto cached_bytes = [&] {
        std::uintmax_t bytes = 0;
        for (const auto& [name, text] : snapshot(place / "cache/rakelight")) bytes += text.size();
        return bytes;
    };
    for (int i = 0; i < 5; ++i) {
        write_ply(place / "model.ply", sphere(5.0 + i, 40));  // about half a MiB in the cache
        const Ended ended = rakelight({"inspect", place / "model.ply", "--cache-mib", "1"}, setup);
        CHECK(ended.code == 0);
        CHECK(cached_bytes() > 300000);
        CHECK(cached_bytes() <= 1 << 20);
    }
    for (int i = 0; i < 3; ++i) {
        write_ply(place / "model.ply", sphere(15.0 + i, 40));
        CHECK(rakelight({"inspect", place / "model.ply"}, setup).code == 0);
    }
    CHECK(cached_bytes() > 1 << 20);  // the limit was what kept it small
}

TEST_CASE("a cache folder that cannot be used is a warning") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "taken", "not a folder");
    const Ended ended = rakelight(
        {"inspect", place / "model.ply", "--json", "--cache-folder", place / "taken/below"});
    CHECK(ended.code == 0);
    CHECK(contains(ended.err, "warning"));
    CHECK(contains(ended.err, "cache"));
    CHECK(Json::parse(ended.out).at("triangles") == 12 + 6 * 2 * 12 * 12);
}

namespace {

Json inspected(const fs::path& model, Words more = {}) {
    Words words{"inspect", model, "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const Ended ended = rakelight(words);
    REQUIRE_MESSAGE(ended.code == 0, ended.err);
    return Json::parse(ended.out);
}

// Written as the parts "shell" and "stand".
Json inspected(const Place& place, const Model& shell, const Model& stand) {
    write_obj(place / "two.obj", shell, stand);
    return inspected(place / "two.obj", {"--up", "+y"});
}

}  // namespace

TEST_CASE("inspect says how much of each part is seen") {
    const Place place;
    // Beside each other, 2 and 3 wide, 2 high and 2 deep. Front, back, top and foot show 4 and 6 of
    // them, the left only the first, the right only the second one, 4 each: 20 and 28 of 48.
    const Json parts =
        inspected(place, box({-3, -1, -1}, {-1, 1, 1}), box({1, -1, -1}, {4, 1, 1})).at("parts");
    // 256 pixels for 7 units and the margins, 32 a unit: an edge may be off by one of them.
    CHECK(std::abs(parts[0].at("front_share").get<double>() - 0.4) < 0.02);
    CHECK(std::abs(parts[0].at("seen_share").get<double>() - 20.0 / 48.0) < 0.02);
    CHECK(std::abs(parts[1].at("seen_share").get<double>() - 28.0 / 48.0) < 0.02);
    // What lies within another is not seen.
    const Json inner = inspected(place, sphere(1.0, 8), box({-3, -2, -2}, {2, 2, 2})).at("parts");
    CHECK(inner[0].at("seen_share") == 0.0);
    CHECK(inner[1].at("seen_share") == 1.0);
}

TEST_CASE("inspect hints at a ground or a dome that came along, and at nothing else") {
    const Place place;
    const glm::dmat3 flat(1, 0, 0, 0, 0, -1, 0, 1, 0);  // the plate's z becomes y
    const Model ground = moved(plate(20, 20), flat, {0, -3, 0});
    const auto hints = [&](const Model& shell, const Model& stand) {
        return inspected(place, shell, stand).at("hints");
    };
    const Json of_ground = hints(crooked(), moved(ground, glm::dmat3(1), {0, -9, 0}));
    REQUIRE(of_ground.size() == 1);
    CHECK(contains(of_ground[0], "\"stand\" looks like a ground plane"));
    CHECK(contains(of_ground[0], "skip = [\"stand\"] in [model]"));
    const Json of_dome = hints(moved(sphere(50.0, 16), glm::dmat3(1), {1, 2, 3}), crooked());
    REQUIRE(of_dome.size() == 1);
    CHECK(contains(of_dome[0], "\"shell\" looks like a dome"));
    CHECK(hints(crooked(), sphere(0.5, 8)).empty());                            // an eye in a head
    CHECK(hints(crooked(), moved(ground, glm::dmat3(1), {0, 30, 0})).empty());  // a ceiling
    CHECK(
        hints(moved(sphere(2, 8), glm::dmat3(1), {0, 3, 0}), box({-2, 0, -2}, {2, 1, 2})).empty());
    // The sides of a box and its lids: each other's, not a dome around something.
    const Model sides =
        joined(joined(polygon({{-2, -2, 2}, {2, -2, 2}, {2, 2, 2}, {-2, 2, 2}}),
                      polygon({{2, -2, -2}, {-2, -2, -2}, {-2, 2, -2}, {2, 2, -2}})),
               joined(polygon({{2, -2, 2}, {2, -2, -2}, {2, 2, -2}, {2, 2, 2}}),
                      polygon({{-2, -2, -2}, {-2, -2, 2}, {-2, 2, 2}, {-2, 2, -2}})));
    const Model lids = joined(polygon({{-2, 2, 2}, {2, 2, 2}, {2, 2, -2}, {-2, 2, -2}}),
                              polygon({{-2, -2, -2}, {2, -2, -2}, {2, -2, 2}, {-2, -2, 2}}));
    CHECK(hints(sides, lids).empty());
    // In words too.
    write_obj(place / "two.obj", sphere(50.0, 16), crooked());
    const Ended ended = rakelight({"inspect", place / "two.obj"});
    CHECK(contains(ended.out, "hint       \"shell\" looks like a dome"));
    CHECK(contains(ended.out, "front 100.0 %"));
}

TEST_CASE("inspect draws a model from six sides") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const auto draw = [&](const std::string& name, const std::string& up) {
        const Ended ended =
            rakelight({"inspect", place / "model.ply", "--picture", place / name, "--up", up});
        CHECK(ended.code == 0);
        CHECK(contains(ended.err, "wrote"));
        return read_file(place / name);
    };
    const std::string picture = draw("a.png", "+y");
    // A PNG of 8 bits, RGB, wider than high (PNG specification, third edition, 5.2 and 11.2.1).
    CHECK(picture.substr(0, 8) == "\x89PNG\r\n\x1a\n");
    CHECK(picture.substr(24, 2) == std::string("\x08\x02"));
    CHECK(draw("b.png", "+y") == picture);
    CHECK(draw("c.png", "-z") != picture);
    check_refused(rakelight({"inspect", place / "model.ply", "--up", "y"}), 2, {"--up"});
    check_refused(rakelight({"inspect", place / "model.ply", "--picture", place / "no/where.png"}),
                  6, {"where.png"});
}

TEST_SUITE_END();
