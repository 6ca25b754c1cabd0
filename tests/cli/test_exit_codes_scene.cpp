// Exit code 3: the message has file, line and column as docs/scene-file.md promises ("The numbers
// are line and column, from 1"), or the override that brought the fault in.

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

struct Fault {
    const char* text;   // the scene; a '$' stands right before the place that the message names
    const char* words;  // that the message must have
};

// Line and column of the '$', from 1; and the text without it.
std::string place_of(std::string& text) {
    const std::size_t at = text.find('$');
    REQUIRE(at != std::string::npos);
    text.erase(at, 1);
    int line = 1;
    std::size_t start = 0;
    for (std::size_t i = 0; i < at; ++i) {
        if (text[i] != '\n') continue;
        ++line;
        start = i + 1;
    }
    return std::to_string(line) + ":" + std::to_string(at - start + 1);
}

}  // namespace

TEST_SUITE_BEGIN("cli.exit_codes");

TEST_CASE("a fault in a scene ends with 3 and names file, line and column") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    const std::vector<Fault> faults{
        {"[blank]\nwidth_mm = $\"38\"\n[model]\nfile = \"model.ply\"\n", "quotes"},
        {"[blank]\n$widht_mm = 38\n[model]\nfile = \"model.ply\"\n", "width_mm"},
        {"[blank]\nwidth_mm = $-1\n[model]\nfile = \"model.ply\"\n", "above 0"},
        {"[blank]\nshape = $\"star\"\n[model]\nfile = \"model.ply\"\n", "oval"},
        {"[blank]\n[model]\nfile = \"model.ply\"\n[image]\n  samples = $9\n", "8"},
        {"[blank]\n[model]\nfile = \"model.ply\"\n[$posse]\n", "pose"},
        {"[blank]\n[model]\nfile = \"model.ply\"\nup = \"+y\"\nfront = $\"-y\"\n", "axis"},
        {"[blank]\n[model]\nfile = \"model.ply\"\n[pass.depth]\nrange_mm = $[2, 1]\n", "below"},
    };
    for (const auto& fault : faults) {
        std::string text = fault.text;
        const std::string at = place_of(text);
        CAPTURE(text);
        write_file(place / "faulty.toml", text);
        for (const std::string command : {"check", "render", "lock"}) {
            check_refused(rakelight({command, place / "faulty.toml"}), 3,
                          {(place / "faulty.toml").string() + ":" + at + ":", fault.words});
        }
    }
    CHECK_FALSE(fs::exists(place / "faulty-passes"));
}

TEST_CASE("text that is no TOML, and files that are no text, end with 3") {
    const Place place;
    const std::string scene = place / "scene.toml";
    check_refused(rakelight({"check", scene}), 3, {"scene.toml", "No such file"});
    check_refused(rakelight({"check", place.folder().string()}), 3, {"folder", "scene file"});
    write_file(scene, "[blank\nwidth_mm = 3\n");
    check_refused(rakelight({"check", scene}), 3, {"scene.toml:1:", "TOML"});
    write_file(scene, std::string("[blank]\nwidth_mm = \0 3\n", 23));
    check_refused(rakelight({"check", scene}), 3, {"scene.toml:2:"});
    write_file(scene, "");
    check_refused(rakelight({"check", scene}), 3, {"scene.toml:", "empty", "draft"});
    write_file(scene, std::string((1 << 20) + 1, '#'));
    check_refused(rakelight({"check", scene}), 3, {"scene.toml", "1 MiB"});
}

TEST_CASE("a fault that an override brought in ends with 3 and names the override") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    write_file(place / "scene.toml", SceneText{}.text());
    const auto with = [&](const std::string& set) {
        return rakelight({"check", place / "scene.toml", "--set", set});
    };
    check_refused(with("pose.yaw_deg=left"), 3, {"--set pose.yaw_deg=left:", "degrees"});
    check_refused(with("pose.yaw=3"), 3, {"--set pose.yaw=3:", "yaw_deg"});
    check_refused(with("blank.rim_mm=10"), 3, {"--set blank.rim_mm=10:", "10 mm"});
    check_refused(with("image.px_per_mm=0"), 3, {"--set image.px_per_mm=0:", "above 0"});
    check_refused(with("framing.fit=field"), 3, {"--set framing.fit=field:", "none"});
    check_refused(with("model.use=[\"horn\"]"), 3, {"horn", "no part"});
    check_refused(with("model.clip=walk"), 3, {"[model] clip", "\"walk\"", "no clips"});
    check_refused(with("model.shapes.smile=1"), 3, {"[model] shapes", "\"smile\"", "no shapes"});
    check_refused(with("model.frame=2"), 3, {"[model] frame", "found 2", "no vertex frames"});
    CHECK(with("pose.yaw_deg=30").code == 0);
}

TEST_CASE("the last of two overrides of one key counts") {
    const Place place;
    write_ply(place / "model.ply", plate(5, 5));
    write_file(place / "scene.toml", SceneText{}.text());
    const Ended ended = rakelight({"check", place / "scene.toml", "--json", "--set",
                                   "image.px_per_mm=3", "--set", "image.px_per_mm=7"});
    REQUIRE(ended.code == 0);
    CHECK(Json::parse(ended.out).at(0).at("width_px") == 140);
}

TEST_SUITE_END();
