// [relief]: what it says, and what it must not.

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

ReliefSettings relief_of(const std::string& text) {
    return parse(smallest + "[relief]\n" + text).relief.value();
}

std::string fault(const std::string& text) {
    try {
        relief_of(text);
    } catch (const Error& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("relief: none unless asked for; an empty table is the usual recipe") {
    CHECK_FALSE(parse(smallest).relief);
    const ReliefSettings usual = relief_of("");
    CHECK(usual.height_mm == 2.0);
    REQUIRE(usual.layers.size() == 2);
    CHECK(usual.layers[0].source == ReliefSource::forms);
    CHECK(usual.layers[1].source == ReliefSource::occlusion);
    CHECK(usual.layers[1].mix == MixMode::multiply);
    CHECK(parse(smallest).content != parse(smallest + "[relief]\n").content);
}

TEST_CASE("relief: layers in their order, with all their keys") {
    const ReliefSettings relief = relief_of(
        "height_mm = 1.5\nbase_mm = 0.1\nsunk = true\nmirrored = true\n"
        "[relief.forms]\nsqueeze = 5\ndetail = 0.5\ndetail_mm = 0.2\nlip_mm = 0\n"
        "[[relief.layer]]\nsource = 'forms'\n"
        "[[relief.layer]]\nsource = 'curvature'\nmix = 'soft-light'\nopacity = 0.5\nblur_mm = 0.1\n"
        "black = 0.2\nwhite = 0.8\ngamma = 2\ncurve = [[0, 0], [0.5, 0.7], [1, 1]]\n"
        "mask = 'silhouette'\nmask_reversed = true\n"
        "[[relief.layer]]\nsource = 'contour'\nmix = 'add'\namount_mm = -0.2\nclip_percent = "
        "0.5\n");
    CHECK(relief.height_mm == 1.5);
    CHECK(relief.sunk);
    CHECK(relief.mirrored);
    CHECK(relief.forms.squeeze == 5.0);
    CHECK(relief.forms.lip_mm == 0.0);
    REQUIRE(relief.layers.size() == 3);
    const ReliefLayer& second = relief.layers[1];
    CHECK(second.mix == MixMode::soft_light);
    CHECK(second.levels.gamma == 2.0);
    CHECK(second.curve.at(1) == std::array{0.5, 0.7});
    CHECK(second.mask == ReliefSource::silhouette);
    CHECK(relief.layers[2].amount_mm == -0.2);
    CHECK(relief.layers[2].clip_percent == 0.5);
}

TEST_CASE("relief: each fault says where it stands and what belongs there") {
    const auto said = [](const std::string& text, std::initializer_list<const char*> words) {
        const std::string message = fault(text);
        CAPTURE(message);
        for (const char* word : words) CHECK(contains(message, word));
    };
    const std::string layer = "[[relief.layer]]\n";
    said("height = 2\n", {"height", "height_mm"});
    said(layer + "mix = 'normal'\n", {"source", "source = \"forms\""});
    said(layer + "source = 'form'\n", {"\"form\"", "Did you mean \"forms\"?"});
    said(layer + "source = 'depth'\nmix = 'softlight'\n", {"Did you mean \"soft-light\"?"});
    said(layer + "source = 'depth'\nmix = 'add'\n", {"amount_mm"});
    said(layer + "source = 'depth'\namount_mm = 1\n", {"amount_mm in a layer that is not added"});
    said(layer + "source = 'depth'\nblack = 1\n", {"black and white both 1"});
    said(layer + "source = 'depth'\nclip_percent = 1\nwhite = 0.9\n", {"clip_percent beside"});
    said(layer + "source = 'depth'\ncurve = [[0, 0]]\n", {"1 point", "at least two"});
    said(layer + "source = 'depth'\ncurve = [[0, 0], [0, 1]]\n", {"first numbers rise"});
    said(layer + "source = 'depth'\ncurve = [[0, 0], [1, 2]]\n", {"pairs of numbers"});
    said(layer + "source = 'depth'\nmask_reversed = true\n", {"without a mask"});
    said(layer + "source = 'depth'\nopacity = 1.5\n", {"opacity", "from 0 to 1"});
    said("layer = 3\n", {"layer"});
    CHECK(contains(fault(layer + "source = 'form'\n"), "medal.toml:"));
}
