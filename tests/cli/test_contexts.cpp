// What draws: a GPU where there is one, the processor otherwise, OpenGL where it is asked for.
// Without a display EGL alone; with Xvfb a hidden window too.

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numeric>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// No GPU is seen: of EGL's drivers Mesa's alone is loaded, where it is installed under this name
// (https://github.com/NVIDIA/libglvnd, src/EGL/icd_enumeration.md), and it draws in software.
Setup software(std::map<std::string, std::string> env = {}) {
    Setup setup;
    const std::string mesa = "/usr/share/glvnd/egl_vendor.d/50_mesa.json";
    if (fs::exists(mesa)) env.emplace("__EGL_VENDOR_LIBRARY_FILENAMES", mesa);
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
}

void check_driver(const Json& facts) {
    CHECK(facts.at("max_texture_px").get<int>() >= 16384);  // OpenGL 4.1 core, MAX_TEXTURE_SIZE
    CHECK(contains(facts.at("opengl"), "."));
}

bool tried(const Json& facts, const std::string& word) {
    const Json& all = facts.at("tried");
    return std::any_of(all.begin(), all.end(), [&](const Json& attempt) {
        return contains(attempt.at("way").get<std::string>(), word);
    });
}

std::string crooked_scene(const Place& place) {
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    scene.pose = "yaw_deg = 21\npitch_deg = 9\n";
    scene.image = "px_per_mm = 20.0\n";
    scene.passes = "";
    write_file(place / "scene.toml", scene.text());
    return place / "scene.toml";
}

double mean_share(const Picture& picture) {
    const double sum = std::accumulate(picture.codes.begin(), picture.codes.end(), 0.0);
    return sum / 65535.0 / static_cast<double>(picture.codes.size());
}

}  // namespace

TEST_SUITE_BEGIN("cli.contexts");

TEST_CASE("without a GPU the processor draws, and graphics lists what was tried before") {
    for (const Words& words : {Words{"graphics"}, Words{"graphics", "--context", "auto"}}) {
        Words with_json = words;
        with_json.push_back("--json");
        const Ended json = run(command_line(with_json), software());
        REQUIRE(json.code == 0);
        const Json facts = Json::parse(json.out);
        CHECK(facts.at("context") == "processor");
        CHECK(facts.at("renderer") == "");
        CHECK(tried(facts, "EGL"));
        CHECK(tried(facts, "GLFW"));
        check_tried(facts);
        const Ended text = run(command_line(words), software());
        CHECK(text.code == 0);
        CHECK(contains(text.out, "context    processor\n"));
        for (const auto& attempt : facts.at("tried")) {
            CHECK(contains(text.out, attempt.at("way")));
            CHECK(contains(text.out, attempt.at("outcome")));
        }
    }
}

TEST_CASE("the processor that is asked for looks at no driver") {
    const Ended json =
        run(command_line({"graphics", "--json", "--context", "processor"}), software());
    REQUIRE(json.code == 0);
    const Json facts = Json::parse(json.out);
    CHECK(facts.at("context") == "processor");
    CHECK(facts.at("tried").size() == 1);
    check_tried(facts);
}

TEST_CASE("EGL that is asked for is taken without a display, and graphics says so") {
    const Ended json = run(command_line({"graphics", "--json", "--context", "egl"}), software());
    REQUIRE(json.code == 0);
    const Json facts = Json::parse(json.out);
    CHECK(contains(facts.at("context"), "EGL"));
    check_tried(facts);
    check_driver(facts);
    const Ended text = run(command_line({"graphics", "--context", "egl"}), software());
    CHECK(text.code == 0);
    for (const char* key : {"context", "renderer", "opengl", "glsl"}) {
        CHECK(contains(text.out, facts.at(key)));
    }
    CHECK(contains(text.out, "tried"));
    CHECK(contains(text.out, facts.at("tried").back().at("way")));
}

TEST_CASE("the hidden window that is asked for works where a display is, with EGL or without") {
    if (no_window()) return;
    const Place place;
    write_file(place / "no-driver.json", "{}");
    const std::map<std::string, std::string> no_egl{
        {"__EGL_VENDOR_LIBRARY_FILENAMES", place / "no-driver.json"}};
    for (const auto& env : {std::map<std::string, std::string>{}, no_egl}) {
        const Ended ended = in_window({"graphics", "--json", "--context", "glfw"}, env);
        REQUIRE(ended.code == 0);
        const Json window = Json::parse(ended.out);
        CHECK(contains(window.at("context"), "GLFW"));
        CHECK(window.at("tried").size() == 1);
        check_tried(window);
        check_driver(window);
    }
    // Its driver is a software one, too, so that the processor is taken when nothing is asked for.
    const Ended automatic = in_window({"graphics", "--json"}, no_egl);
    REQUIRE(automatic.code == 0);
    const Json facts = Json::parse(automatic.out);
    CHECK(facts.at("context") == "processor");
    CHECK(tried(facts, "GLFW"));
    check_tried(facts);
}

TEST_CASE("the processor and EGL render the same picture, but for rounding") {
    const Place place;
    const std::string scene = crooked_scene(place);
    for (const std::string way : {"processor", "egl"}) {
        const Ended ended = run(
            command_line({"render", scene, "--context", way, "--no-proof", "--out", place / way}),
            software());
        INFO(ended.err);
        REQUIRE(ended.code == 0);
        const Json manifest = Json::parse(read_file(place / (way + "/manifest.json")));
        const std::string context = manifest.at("graphics").at("context");
        CHECK(contains(context, way == "egl" ? "EGL" : "processor"));
    }
    const auto read = [&](const std::string& way, const std::string& pass) {
        return read_picture(place / (way + "/" + pass + ".png"));
    };
    // Both place the same samples; a driver snaps corners to 1/256 px at the least (OpenGL 4.1
    // core, SUBPIXEL_BITS), so that single samples along the outline may differ, in either
    // direction.
    const double share = mean_share(read("processor", "silhouette"));
    CHECK(share > 0.1);  // the picture is not empty
    CHECK(std::abs(share - mean_share(read("egl", "silhouette"))) < 1e-4);
    // One code is a 65535th of a depth of some mm; single precision of the driver's interpolation
    // is a few millionths of it. Where a sample more or less is covered, depth differs by a step.
    const Picture a = read("processor", "depth");
    const Picture b = read("egl", "depth");
    REQUIRE(a.codes.size() == b.codes.size());
    std::size_t subject = 0;
    std::size_t close = 0;
    for (std::size_t i = 0; i < a.codes.size(); ++i) {
        if (a.codes[i] == 0 && b.codes[i] == 0) continue;
        ++subject;
        close += std::abs(int{a.codes[i]} - int{b.codes[i]}) <= 3;
    }
    CHECK(subject > 10000);
    CHECK(static_cast<double>(close) > 0.995 * static_cast<double>(subject));
}

TEST_CASE("both graphics contexts render the same bytes on the same driver") {
    if (no_window()) return;
    const Place place;
    const std::string scene = crooked_scene(place);
    const auto words = [&](const std::string& way) {
        return Words{"render", scene, "--context", way, "--out", place / way};
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
