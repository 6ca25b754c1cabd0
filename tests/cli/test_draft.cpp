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

TEST_SUITE_END();
