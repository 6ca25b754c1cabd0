// [relief]: what it says, and what it must not.

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <set>

#include "test_scene_support.hpp"

namespace fs = std::filesystem;

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

namespace {

/// A recipe's file beside a scene, both read from a folder of their own.
class RecipePlace {
public:
    RecipePlace() : folder_(fs::temp_directory_path() / "rakelight-recipes") {
        fs::create_directories(folder_ / "shared");
    }
    ~RecipePlace() { fs::remove_all(folder_); }

    void write(const std::string& name, const std::string& text) const {
        std::ofstream(folder_ / name) << text;
    }
    Scene scene(const std::string& relief, const std::vector<Override>& overrides = {}) const {
        return parse_scene(smallest + relief, folder_ / "medal.toml", overrides);
    }
    std::string fault(const std::string& relief) const {
        try {
            scene(relief);
        } catch (const Error& error) {
            CHECK(error.code() == ExitCode::bad_scene);
            return error.what();
        }
        return "";
    }
    fs::path operator/(const std::string& name) const { return folder_ / name; }

private:
    fs::path folder_;
};

}  // namespace

TEST_CASE("recipes: the scene's keys go before the recipe's, its layers follow") {
    const RecipePlace place;
    place.write("shared/soft.toml",
                "[relief]\nheight_mm = 1.1\nbase_mm = 0.2\n[relief.fade]\nedge_mm = 0.3\n"
                "[relief.forms]\nsqueeze = 4\n[relief.source.mark]\nimage = 'mark.png'\n"
                "[[relief.layer]]\nsource = 'depth'\n");
    const Scene scene = place.scene(
        "[relief]\nrecipe = 'shared/soft.toml'\nheight_mm = 1.4\n[relief.fade]\nrim_mm = 2\n"
        "[relief.source.own]\nimage = 'own.png'\n"
        "[[relief.layer]]\nsource = 'mark'\nmix = 'screen'\n",
        {{"relief.base_mm", "0.5"}});
    const ReliefSettings& relief = scene.relief.value();
    CHECK(relief.height_mm == 1.4);
    CHECK(relief.base_mm == 0.5);
    CHECK(relief.fade.edge_mm == 0.3);
    CHECK(relief.fade.rim_mm == 2.0);
    CHECK(relief.forms.squeeze == 4.0);
    REQUIRE(relief.layers.size() == 2);
    CHECK(relief.layers[0].source == ReliefSource::depth);
    CHECK(relief.layers[1].source.pass == ReliefSource::named);
    CHECK(relief.recipe_file == place / "shared/soft.toml");
    for (const NamedSource& source : relief.sources) {
        const auto& image = std::get<ImageSource>(source.what);
        // Each path begins where its file lies.
        CHECK(image.file ==
              (source.name == "mark" ? place / "shared/mark.png" : place / "own.png"));
    }
    CHECK(relief.sources[relief.layers[1].source.named].name == "mark");
    // What the recipe says is a part of what the pictures depend on.
    place.write("shared/soft.toml", "[relief]\n[[relief.layer]]\nsource = 'depth'\n");
    const std::string use = "[relief]\nrecipe = 'shared/soft.toml'\n";
    const std::string before = place.scene(use).content;
    place.write("shared/soft.toml", "[relief]\n[[relief.layer]]\nsource = 'contour'\n");
    CHECK(place.scene(use).content != before);
}

TEST_CASE("recipes: those that are built in read without a fault, each another") {
    std::set<std::string> contents;
    for (const char* name : {"struck-medal", "cast-piece", "button"}) {
        const Scene scene = parse(smallest + "[relief]\nrecipe = '" + std::string(name) + "'\n");
        CHECK(scene.relief->layers.size() >= 2);
        CHECK_FALSE(scene.relief->recipe_file);
        contents.insert(scene.content);
    }
    CHECK(contents.size() == 3);
    // Without a recipe the struck medal's layers, and nothing else of it.
    CHECK(parse(smallest + "[relief]\n").relief->fade.edge_mm == 0.0);
}

TEST_CASE("recipes: faults say the file, the line and the column") {
    const RecipePlace place;
    const std::string use = "[relief]\nrecipe = 'r.toml'\n";
    const auto said = [&](const std::string& text, std::initializer_list<const char*> words) {
        place.write("r.toml", text);
        const std::string message = place.fault(use);
        CAPTURE(message);
        for (const char* word : words) CHECK(contains(message, word));
    };
    const std::string at = (place / "r.toml").string();
    said("[relief]\n\nheight = 2\n", {(at + ":3:1: [relief] height").c_str(), "height_mm"});
    said("[relief]\n[[relief.layer]]\nsource = 'dept'\n", {(at + ":3:10").c_str(), "\"depth\""});
    said("[relief]\nheight_mm = \n", {(at + ":2:").c_str(), "not valid TOML"});
    said("[relief]\n[model]\nfile = 'a'\n", {(at + ":2:").c_str(), "model", "[relief] alone"});
    said("[pose]\n", {"no [relief]"});
    said("[relief]\nrecipe = 'button'\n", {(at + ":2:").c_str(), "a recipe within a recipe"});
    CHECK(contains(place.fault("[relief]\nrecipe = 'none.toml'\n"), "cannot be read"));
    CHECK(contains(place.fault("[relief]\nrecipe = 'buton'\n"), "Did you mean \"button\"?"));
    CHECK(contains(place.fault("[relief]\nrecipe = 3\n"), "found 3"));
    // A fault of the scene's own is said first.
    place.write("r.toml", "[relief]\nheight = 2\n");
    CHECK(contains(place.fault(use + "base = 1\n"), "medal.toml:"));
}

TEST_CASE("sources: each kind with its own keys") {
    const std::string source = "[relief.source.one]\n";
    const ReliefSettings relief = relief_of(
        source +
        "shape = 'rectangle'\nsize_mm = [4, 2]\ncorner_mm = 0.5\nsoft_mm = 0.1\n"
        "centre_mm = [1, 2]\nturn_deg = 30\n"
        "[relief.source.two]\ngradient = 'radial'\nfrom_mm = [0, 0]\nto_mm = [0, 5]\n"
        "[relief.source.three]\npart = 'eye*'\n"
        "[[relief.layer]]\nsource = 'depth'\nmask = 'three'\n"
        "[[relief.layer]]\nsource = 'two'\nplace = 'field'\nmix = 'add'\namount_mm = 1\n");
    REQUIRE(relief.sources.size() == 3);
    const auto named = [&](const char* name) {
        return *std::find_if(relief.sources.begin(), relief.sources.end(),
                             [&](const NamedSource& s) { return s.name == name; });
    };
    CHECK(std::get<ShapeSource>(named("one").what).corner_mm == 0.5);
    CHECK(named("one").turn_deg == 30.0);
    CHECK(std::get<GradientSource>(named("two").what).form == GradientForm::radial);
    CHECK(relief.sources[relief.layers[0].mask->named].name == "three");
    CHECK(relief.layers[1].place == LayerPlace::field);
}

TEST_CASE("sources: each fault says where it stands and what belongs there") {
    const auto said = [](const std::string& text, std::initializer_list<const char*> words) {
        const std::string message = fault(text);
        CAPTURE(message);
        for (const char* word : words) CHECK(contains(message, word));
    };
    const std::string source = "[relief.source.one]\n";
    said(source, {"[relief.source.one] image", "shape, gradient, part or region"});
    said(source + "shape = 'disc'\n", {"\"ellipse\" or \"rectangle\""});
    said(source + "shape = 'ellipse'\n", {"size_mm = ["});
    said(source + "shape = 'ellipse'\nsize_mm = [1, 0]\n", {"above 0"});
    said(source + "shape = 'ellipse'\nsize_mm = [1, 1]\ncorner_mm = 0.1\n", {"of an ellipse"});
    said(source + "shape = 'rectangle'\nsize_mm = [1, 2]\ncorner_mm = 0.6\n", {"at most half"});
    said(source + "shape = 'rectangle'\nsize_mm = [1, 2]\nwidth_mm = 2\n",
         {"width_mm", "no shape takes"});
    said(source + "image = 'a.png'\nregion = 'rim'\n", {"region", "no image takes"});
    said(source + "gradient = 'linear'\nfrom_mm = [0, 0]\n", {"to_mm = ["});
    said(source + "gradient = 'linear'\nfrom_mm = [1, 1]\nto_mm = [1, 1]\n", {"at one place"});
    said(source + "part = 'eye'\ncentre_mm = [0, 0]\n", {"no part takes"});
    said(source + "region = 'field'\ndepth = true\n", {"what is no part"});
    said(source + "region = 'hole'\n", {"the hole of a blank without one"});
    said(source + "shap = 'ellipse'\n", {"Did you mean shape?"});
    said("[relief.source.depth]\nregion = 'field'\n", {"the name of a pass"});
    said("[relief.source.\"a b\"]\nregion = 'field'\n", {"letters, digits"});
    const std::string layer = source + "region = 'field'\n[[relief.layer]]\n";
    said(layer + "source = 'on'\n", {"Did you mean \"one\"?"});
    said(layer + "source = 'one'\nplace = 'field'\n", {"that is not added"});
    const std::string added = "mix = 'add'\namount_mm = 1\nplace = 'piece'\n";
    said(layer + "source = 'depth'\n" + added, {"no values beyond the subject"});
    said(layer + "source = 'one'\nclip_percent = 1\n" + added, {"counts the subject's pixels"});
}

TEST_CASE("fades: what they need of the blank") {
    CHECK(contains(fault("[relief.fade]\nexergue_mm = 1\n"), "a blank without one"));
    CHECK(contains(fault("[relief.fade]\nexergue_line_mm = 1\n"), "exergue_mm = 2.0"));
    CHECK(contains(fault("rim = true\n"), "a blank without one"));
    CHECK(contains(fault_of("[blank]\nrim_height_mm = 1\n[model]\nfile = 'a'\n"), "a rim"));
    CHECK(relief_of("[relief.fade]\nexergue_mm = 1\nexergue_line_mm = -3\n").fade.exergue_line_mm ==
          -3.0);
}

TEST_CASE("relief: what can be made, with all its keys; without the table, anything") {
    const MakingSettings making =
        relief_of(
            "[relief.making]\ntallest_mm = 2.5\nridge_mm = 0.4\ngroove_mm = 0.3\ncutter = 'ball'\n"
            "wall_deg = 80\nsteps = 256\nleast_mm = 0.02\n")
            .making;
    CHECK(making.tallest_mm == 2.5);
    CHECK(making.ridge_mm == 0.4);
    CHECK(making.groove_mm == 0.3);
    CHECK(making.cutter == CutterTip::ball);
    CHECK(making.wall_deg == 80.0);
    CHECK(making.steps == 256);
    CHECK(making.least_mm == 0.02);
    CHECK(making.has_limits());
    CHECK(making.has_steps());
    for (const char* nothing : {"", "[relief.making]\n", "[relief.making]\nleast_mm = 1\n"}) {
        CHECK_FALSE(relief_of(nothing).making.has_limits());
        CHECK_FALSE(relief_of(nothing).making.has_steps());
    }
    const MakingSettings layers = relief_of("[relief.making]\nstep_mm = 0.05\n").making;
    CHECK(layers.step_mm == 0.05);
    CHECK(layers.has_steps());
    CHECK_FALSE(layers.has_limits());
}

TEST_CASE("relief: faults of what can be made have their line and column") {
    // smallest has three lines, [relief] is the fourth, [relief.making] the fifth.
    const auto said = [](const std::string& text, std::initializer_list<const char*> words) {
        const std::string message = fault("[relief.making]\n" + text);
        CAPTURE(message);
        for (const char* word : words) CHECK(contains(message, word));
    };
    said("ridge = 1\n", {"medal.toml:6:1", "Did you mean ridge_mm?"});
    said("ridge_mm = 0\n", {"medal.toml:6:12", "above 0 and at most 10, in mm"});
    said("groove_mm = 11\n", {"medal.toml:6:13", "at most 10"});
    said("groove_mm = 0.4\ncutter = 'bal'\n", {"medal.toml:7:10", "Did you mean \"ball\"?"});
    said("cutter = 'ball'\n", {"medal.toml:6:10", "a ball without a width", "groove_mm = 0.5"});
    said("wall_deg = 91\n", {"medal.toml:6:12", "at most 90, in degrees"});
    said("step_mm = 0.0001\n", {"medal.toml:6:11", "from 0.001"});
    said("steps = 1\n", {"medal.toml:6:9", "2", "65536"});
    said("steps = 2.5\n", {"medal.toml:6:9"});
    said("step_mm = 0.05\nsteps = 256\n", {"both step_mm and steps", "one of both"});
    said("tallest_mm = 'high'\n", {"medal.toml:6:14", "tallest_mm"});
    said("least_mm = -1\n", {"medal.toml:6:12", "least_mm"});
    CHECK(contains(fault("making = 3\n"), "medal.toml:5:10"));
}
