// Both ways to a graphics context. Without a display EGL alone; with Xvfb a hidden window too.

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

Setup software(std::map<std::string, std::string> env = {}) {
    Setup setup;
    setup.env = std::move(env);
    setup.env["LIBGL_ALWAYS_SOFTWARE"] = "1";
    setup.unset = {"DISPLAY", "WAYLAND_DISPLAY"};
    return own_folders(setup);
}

bool no_window() {
    if (!installed("xvfb-run").empty()) return false;
    MESSAGE("xvfb-run is not installed: no hidden window");
    return true;
}

Ended in_window(const Words& arguments, std::map<std::string, std::string> env = {}) {
    Words words = command_line(arguments);
    words.insert(words.begin(), {"xvfb-run", "-a"});
    return run(words, software(std::move(env)));
}

// The last that was tried was taken, and every other has a reason.
void check_tried(const Json& facts) {
    const Json& tried = facts.at("tried");
    REQUIRE(tried.size() >= 1);
    for (std::size_t i = 0; i < tried.size(); ++i) {
        const bool last = i + 1 == tried.size();
        CHECK(tried.at(i).at("taken") == last);
        CHECK(tried.at(i).at("outcome").get<std::string>().size() > 3);
    }
    CHECK(tried.back().at("way") == facts.at("context"));
    CHECK(facts.at("max_texture_px").get<int>() >= 16384);  // OpenGL 4.1 core, MAX_TEXTURE_SIZE
    CHECK(contains(facts.at("opengl"), "."));
}

}  // namespace

TEST_SUITE_BEGIN("cli.contexts");

TEST_CASE("without a display EGL is taken, and graphics says so") {
    for (const std::string way : {"auto", "egl"}) {
        const Ended json = run(command_line({"graphics", "--json", "--context", way}), software());
        CHECK(json.code == 0);
        const Json facts = Json::parse(json.out);
        CHECK(contains(facts.at("context"), "EGL"));
        check_tried(facts);
        const Ended text = run(command_line({"graphics", "--context", way}), software());
        CHECK(text.code == 0);
        for (const char* key : {"context", "renderer", "opengl", "glsl"}) {
            CHECK(contains(text.out, facts.at(key)));
        }
        CHECK(contains(text.out, "tried"));
        CHECK(contains(text.out, facts.at("tried").back().at("way")));
    }
}

TEST_CASE("with a display the hidden window works, and is what is left without EGL's drivers") {
    if (no_window()) return;
    const Json window = Json::parse(in_window({"graphics", "--json", "--context", "glfw"}).out);
    CHECK(contains(window.at("context"), "GLFW"));
    CHECK(window.at("tried").size() == 1);
    check_tried(window);
    const Place place;
    write_file(place / "no-driver.json", "{}");
    const Ended ended = in_window({"graphics", "--json"},
                                  {{"__EGL_VENDOR_LIBRARY_FILENAMES", place / "no-driver.json"}});
    REQUIRE(ended.code == 0);
    const Json left = Json::parse(ended.out);
    CHECK(contains(left.at("context"), "GLFW"));
    CHECK(left.at("tried").size() >= 2);
    CHECK(contains(left.at("tried").at(0).at("way"), "EGL"));
    check_tried(left);
}

TEST_CASE("both contexts render the same bytes on the same driver") {
    if (no_window()) return;
    const Place place;
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    scene.pose = "yaw_deg = 21\npitch_deg = 9\n";
    scene.passes = "";
    write_file(place / "scene.toml", scene.text());
    const auto words = [&](const std::string& way) {
        return Words{"render", place / "scene.toml", "--context", way, "--out", place / way};
    };
    REQUIRE(run(command_line(words("egl")), software()).code == 0);
    REQUIRE(in_window(words("glfw")).code == 0);
    const Json a = Json::parse(read_file(place / "egl/manifest.json"));
    const Json b = Json::parse(read_file(place / "glfw/manifest.json"));
    CHECK(a.at("graphics").at("context") != b.at("graphics").at("context"));
    if (a.at("graphics").at("renderer") != b.at("graphics").at("renderer")) {
        MESSAGE("the two contexts have different drivers here");
        return;
    }
    std::vector<std::string> texts{"manifest.json", "timings.json"};
    CHECK(differences(snapshot(place / "egl"), snapshot(place / "glfw")) == texts);
}

TEST_SUITE_END();
