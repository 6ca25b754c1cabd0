// What goes to stdout and what to stderr.

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// A scene that has something to warn of: two samples give coarse edges.
std::string warning_scene(const Place& place) {
    write_ply(place / "model.ply", sphere(6, 8));
    SceneText scene;
    scene.image += "samples = 2\n";
    write_file(place / "scene.toml", scene.text());
    return place / "scene.toml";
}

}  // namespace

TEST_SUITE_BEGIN("cli.talk");

TEST_CASE("with --json stdout is one JSON document; warnings go to stderr") {
    const Place place;
    const std::string scene = warning_scene(place);
    const std::string model = place / "model.ply";
    const Ended check = rakelight({"check", scene, "--json"});
    const Ended render = rakelight({"render", scene, "--json"});
    const Ended lock = rakelight({"lock", scene, "--json"});
    for (const Ended& ended : {check, render, lock}) {
        CHECK(ended.code == 0);
        CHECK(Json::accept(ended.out));
        CHECK(contains(ended.err, "rakelight: warning: scene:"));
        CHECK(contains(ended.err, "samples"));
    }
    const Json checked = Json::parse(check.out);
    const Json rendered = Json::parse(render.out);
    REQUIRE(checked.size() == 1);
    REQUIRE(rendered.size() == 1);
    CHECK(checked.at(0).at("scene") == scene);
    CHECK(checked.at(0).at("width_px") == 200);
    CHECK(checked.at(0).at("warnings").size() == 1);
    CHECK(checked.at(0).at("warnings") == rendered.at(0).at("warnings"));
    for (const auto& file : rendered.at(0).at("files")) {
        CHECK(fs::exists(place / ("scene-passes/" + file.get<std::string>())));
    }
    CHECK(rendered.at(0).at("files").size() == snapshot(place / "scene-passes").size());
    const Ended inspect = rakelight({"inspect", model, "--json"});
    CHECK(Json::parse(inspect.out).at("triangles") == 6 * 2 * 8 * 8);
    CHECK(inspect.err == "");
    CHECK(Json::parse(rakelight({"graphics", "--json"}).out).contains("renderer"));
}

TEST_CASE("--quiet says nothing on success, not even warnings; errors it still tells") {
    const Place place;
    const std::string scene = warning_scene(place);
    for (const Words& words : {Words{"check", scene}, Words{"render", scene}, Words{"lock", scene},
                               Words{"draft", place / "model.ply", "-o", place / "new.toml"}}) {
        CAPTURE(words[0]);
        Words quiet = words;
        quiet.push_back("--quiet");
        const Ended ended = rakelight(quiet);
        CHECK(ended.code == 0);
        CHECK(ended.out == "");
        CHECK(ended.err == "");
    }
    check_refused(rakelight({"check", place / "none.toml", "--quiet"}), 3, {"none.toml"});
    const Ended json = rakelight({"check", scene, "--quiet", "--json"});
    CHECK(Json::accept(json.out));
    CHECK(json.err == "");
    const Ended terminal = [&] {
        Setup setup;
        setup.stderr_is_terminal = true;
        return rakelight({"render", scene, "--quiet"}, setup);
    }();
    CHECK(terminal.code == 0);
    CHECK(terminal.err == "");
}

TEST_CASE("progress is shown on a terminal and nowhere else") {
    const Place place;
    const std::string scene = warning_scene(place);
    const Ended piped = rakelight({"render", scene});
    CHECK(piped.code == 0);
    CHECK_FALSE(contains(piped.err, "\r"));
    CHECK_FALSE(contains(piped.err, "\033"));
    CHECK_FALSE(contains(piped.err, "rendering"));
    Setup setup;
    setup.stderr_is_terminal = true;
    const Ended shown = rakelight({"render", scene}, setup);
    CHECK(shown.code == 0);
    for (const std::string step : {"loading the model", "looking for a GPU", "preparing the model",
                                   "rendering", "writing"}) {
        CHECK_MESSAGE(contains(shown.err, step), step);
    }
    CHECK(contains(shown.err, "\r\033[K["));
    CHECK(contains(shown.err, "warning"));
    CHECK(shown.out == piped.out);
    const std::size_t last = shown.err.rfind("writing");
    CHECK(contains(shown.err.substr(last), "\r\033[K"));  // it is wiped at the end
}

TEST_CASE("only a search for a GPU is called one") {
    const Place place;
    Setup setup;
    setup.stderr_is_terminal = true;
    const Ended ended =
        rakelight({"render", warning_scene(place), "--context", "processor"}, setup);
    CHECK(ended.code == 0);
    CHECK_FALSE(contains(ended.err, "GPU"));
    CHECK(contains(ended.err, "taking the processor"));
}

TEST_CASE("--verbose says what draws") {
    const Place place;
    const std::string scene = warning_scene(place);
    const Ended processor = rakelight({"render", scene, "--verbose", "--context", "processor"});
    CHECK(processor.code == 0);
    CHECK(contains(processor.err, "rakelight: drawn by: processor\n"));
    const Ended egl = rakelight({"render", scene, "--verbose", "--context", "egl"});
    CHECK(egl.code == 0);
    CHECK(contains(egl.err, "rakelight: drawn by: EGL"));
    CHECK_FALSE(contains(rakelight({"render", scene}).err, "drawn by"));
}

TEST_CASE("what one reads is what --json says") {
    const Place place;
    write_ply(place / "model.ply", sphere(6, 8));
    const Json json = Json::parse(rakelight({"inspect", place / "model.ply", "--json"}).out);
    const std::string text = rakelight({"inspect", place / "model.ply"}).out;
    CHECK(contains(text, std::to_string(json.at("triangles").get<int>())));
    CHECK(json.at("closed") == true);
    CHECK(contains(text, "1 shell, closed"));
    CHECK(json.at("bounds").at("high").at(0) == doctest::Approx(6.0));
    CHECK(contains(text, "12 x 12 x 12"));
}

TEST_SUITE_END();
