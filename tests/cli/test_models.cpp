// Real files of many formats: the importer's own test models (Debian package assimp-testmodels).
// What they show nobody measured; that they come out whole, large and in full range can be checked.

#include <cmath>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

struct RealModel {
    const char* file;
    const char* up;  ///< by the format's own rule, or common practice (docs of inspect)
};

const std::vector<RealModel> models{
    {"PLY/Wuson.ply", "+y"},
    {"OBJ/spider.obj", "+y"},
    {"STL/Spider_binary.stl", "+z"},
    {"STL/sphereWithHole.stl", "+z"},
    {"glTF2/2CylinderEngine-glTF-Binary/2CylinderEngine.glb", "+y"},
    {"glTF2/BoxTextured-glTF/BoxTextured.gltf", "+y"},
    {"FBX/spider.fbx", "+y"},
    {"FBX/huesitos.fbx", "+y"},
    {"Collada/duck.dae", "+y"},
    {"Collada/teapots.DAE", "+y"},
    {"3DS/fels.3ds", ""},
    {"OFF/Wuson.off", "+y"},
    {"X/Testwuson.X", "+y"},
    {"X/BCN_Epileptic.X", "+y"},
    {"LWO/LWO2/sphere_with_mat_gloss_10pc.lwo", "+y"},
    {"BLEND/Suzanne_248.blend", "+z"},
    {"3MF/box.3mf", "+z"},
    {"AC/Wuson.ac", "+y"},
    {"B3D/WusonBlitz.b3d", "+y"},
    {"MD2/faerie.md2", ""},
};

// Turned, so that no box shows one flat side alone; on a rectangle, so that what touches the field
// can be read from a bounding box.
SceneText scene_for(const fs::path& model) {
    SceneText scene;
    scene.blank = "shape = \"rectangle\"\nwidth_mm = 40.0\nheight_mm = 36.0\nrim_mm = 2.0\n";
    scene.model = "file = '" + model.string() + "'\n";
    scene.pose = "yaw_deg = 25\npitch_deg = 12\n";
    scene.framing = "margin_mm = 0.0\n";
    scene.image = "px_per_mm = 6.0\n";
    scene.passes = "";
    return scene;
}

void check_inspected(const fs::path& model, const RealModel& real) {
    const Ended ended = rakelight({"inspect", model, "--json"});
    INFO(ended.err);
    REQUIRE(ended.code == 0);
    const Json facts = Json::parse(ended.out);
    CHECK(facts.at("triangles").get<int>() > 0);
    CHECK(facts.at("parts").size() > 0);
    CHECK(facts.at("bytes").get<std::uint64_t>() >= fs::file_size(model));
    if (real.up[0] != '\0') CHECK(facts.at("up") == real.up);
    CHECK(facts.at("up_reason").get<std::string>().size() > 3);
    int sum = 0;
    for (const auto& part : facts.at("parts")) sum += part.at("triangles").get<int>();
    CHECK(sum == facts.at("triangles"));
}

void check_fills_field(const Json& subject) {
    const double width = subject.at("size_mm").at(0), height = subject.at("size_mm").at(1);
    CHECK(width <= 36.0 + 1e-6);
    CHECK(height <= 32.0 + 1e-6);
    CHECK(std::max(width - 36.0, height - 32.0) > -0.01);
    CHECK(subject.at("outside_field_mm").get<double>() < 0.01);
    CHECK(subject.at("area_mm2").get<double>() > 40.0);
    for (int i = 0; i < 2; ++i) {  // centred
        const double low = subject.at("low_mm").at(i), high = subject.at("high_mm").at(i);
        CHECK(std::abs(low + high) < 0.01);
    }
}

void check_pictures(const fs::path& folder, const Json& manifest) {
    for (const auto& pass : manifest.at("passes")) CHECK(pass.at("clipped") == 0);
    const Picture depth = read_picture(folder / "depth.png");
    const Picture silhouette = read_picture(folder / "silhouette.png");
    int low = 65535, high = 0;
    std::size_t wrong = 0;
    double area = 0.0;
    for (std::size_t i = 0; i < depth.codes.size(); ++i) {
        area += silhouette.codes[i] / 65535.0 / 36.0;
        wrong += (depth.codes[i] == 0) != (silhouette.codes[i] == 0);
        if (depth.codes[i] == 0) continue;
        low = std::min<int>(low, depth.codes[i]);
        high = std::max<int>(high, depth.codes[i]);
    }
    CHECK(wrong == 0);
    CHECK(low == std::lround(65535.0 * 0.01));
    CHECK(high == std::lround(65535.0 * 0.99));
    CHECK(manifest.at("subject").at("area_mm2") == doctest::Approx(area).epsilon(1e-5));
    CHECK(fs::file_size(folder / "proof.png") > 10000);
}

}  // namespace

TEST_SUITE_BEGIN("cli.models");

TEST_CASE("real files of many formats come out whole, large and in full range") {
    const fs::path folder = RAKELIGHT_SOURCE_MODELS;
    if (!fs::exists(folder)) {
        MESSAGE("assimp-testmodels is not installed");
        return;
    }
    std::size_t seen = 0;
    for (const auto& real : models) {
        const fs::path model = folder / real.file;
        if (!fs::exists(model)) continue;
        CAPTURE(std::string(real.file));
        const Place place;
        check_inspected(model, real);
        write_file(place / "scene.toml", scene_for(model).text());
        const Ended ended = rakelight({"render", place / "scene.toml"});
        INFO(ended.err);
        REQUIRE(ended.code == 0);
        const Json manifest = Json::parse(read_file(place / "scene-passes/manifest.json"));
        check_fills_field(manifest.at("subject"));
        check_pictures(place / "scene-passes", manifest);
        ++seen;
    }
    CHECK(seen >= 12);
}

TEST_CASE("inspect lists clips, and a scene that names one shows it") {
    const fs::path model = fs::path(RAKELIGHT_SOURCE_MODELS) / "X/Testwuson.X";
    if (!fs::exists(model)) {
        MESSAGE("assimp-testmodels is not installed");
        return;
    }
    const Ended text = rakelight({"inspect", model});
    for (const char* word : {"rig        37 bones", "Wuson_Walk", "3.6 s", "as the file stands"})
        CHECK(contains(text.out, word));
    const Ended ended =
        rakelight({"inspect", model, "--json", "--clip", "Wuson_Run", "--clip-time-s", "0.3"});
    REQUIRE(ended.code == 0);
    const Json facts = Json::parse(ended.out);
    CHECK(facts.at("bones") == 37);
    REQUIRE(facts.at("clips").size() == 3);
    // The file's own numbers: Wuson_Walk's last key is at tick 17280, of 4800 a second.
    CHECK(facts.at("clips").at(1).at("name") == "Wuson_Walk");
    CHECK(facts.at("clips").at(1).at("to_s") == doctest::Approx(17280.0 / 4800.0));
    CHECK(facts.at("shown") == "the clip \"Wuson_Run\" at 0.3 s");
    const Place place;
    const Rendered stands = render(place, scene_for(model), "stands");
    SceneText running = scene_for(model);
    running.model += "clip = 'Wuson_Run'\nclip_time_s = 0.3\n";
    const Rendered runs = render(place, running, "runs");
    CHECK(stands.manifest.at("model").at("shown") == "as the file stands");
    CHECK(runs.manifest.at("model").at("shown") == facts.at("shown"));
    CHECK(read_file(stands.folder / "depth.png") != read_file(runs.folder / "depth.png"));
}

TEST_CASE("one shape through several formats is one picture") {
    const fs::path folder = RAKELIGHT_SOURCE_MODELS;
    if (!fs::exists(folder)) {
        MESSAGE("assimp-testmodels is not installed");
        return;
    }
    // The same model, exported by different programs: sizes on the blank agree within the six
    // digits that the text formats write, areas within what that moves the outline by.
    const auto subject = [&](const std::string& file) {
        const Place place;
        return render(place, scene_for(folder / file)).manifest.at("subject");
    };
    const Json ply = subject("PLY/Wuson.ply");
    for (const std::string file : {"OFF/Wuson.off", "OBJ/WusonOBJ.obj"}) {
        CAPTURE(file);
        const Json other = subject(file);
        for (int i = 0; i < 2; ++i) {
            CHECK(other.at("size_mm").at(i) ==
                  doctest::Approx(ply.at("size_mm").at(i).get<double>()).epsilon(1e-4));
        }
        CHECK(other.at("area_mm2") ==
              doctest::Approx(ply.at("area_mm2").get<double>()).epsilon(1e-3));
    }
}

TEST_SUITE_END();
