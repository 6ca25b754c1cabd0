// What a file shows several times is stored once, and its pictures do not tell: the same model is
// written with one mesh that every node names, and with a mesh for each.

#include <algorithm>
#include <array>
#include <cstdlib>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

const fs::path ribs = fs::path(RAKELIGHT_SOURCE_MODELS) / "glTF2/ClearCoat-glTF/RibsNormal.png";

// Turned, moved, scaled; the last one is mirrored, and no copy of the others.
const std::vector<std::string> nodes{
    R"("translation":[-3,0,0])",
    R"("translation":[3,1,-1],"rotation":[0.1825742,0.3651484,0.5477226,0.7302967])",
    R"("translation":[0,3,1],"rotation":[0.5,-0.5,0.5,0.5],"scale":[1.5,1.5,1.5])",
    R"("translation":[0,-3,2],"rotation":[0,0.7071068,0,0.7071068],"scale":[0.5,0.5,0.5])",
    R"("translation":[1,0,-4],"rotation":[0.7071068,0,0.7071068,0])",
    R"("translation":[-2,-4,-2],"scale":[2,2,2])",
    R"("translation":[4,-3,0],"scale":[-1,1,1])"};

Model subject() {
    return joined(sphere(1.0, 20), moved(sphere(0.6, 12), glm::dmat3(1.0), {0.9, 0.3, 0.2}));
}

void check_alike(const Rendered& a, const Rendered& b, const std::string& pass) {
    CAPTURE(pass);
    const Picture one = read_picture(a.folder / (pass + ".png"));
    const Picture other = read_picture(b.folder / (pass + ".png"));
    REQUIRE(one.codes.size() == other.codes.size());
    std::size_t far = 0, seen = 0;
    for (std::size_t i = 0; i < one.codes.size(); ++i) {
        far += std::abs(one.codes[i] - other.codes[i]) > 16;
        seen += one.codes[i] != one.codes[0];
    }
    CHECK(seen > one.codes.size() / 200);
    // Corners are rounded to single precision before or after they are moved, so that a sample may
    // change sides where an edge lies within some 1e-7 of the model. How many do is measured, not
    // derived: 1.4e-4 of the depth codes of a thousand links; a copy that stands elsewhere moves
    // hundreds of times as many.
    CHECK(static_cast<double>(far) <= 5e-4 * static_cast<double>(one.codes.size()));
}

struct Both {
    Rendered once, each;
};

Both render_both(const Place& place, SceneText scene, const Words& more) {
    scene.image = "px_per_mm = 20.0\n";
    scene.model = "file = \"once.gltf\"\n";
    const Rendered once = render(place, scene, "once", more);
    scene.model = "file = \"each.gltf\"\n";
    return {once, render(place, scene, "each", more)};
}

void write_both(const Place& place, bool textured) {
    write_gltf(place / "once.gltf", subject(), {nodes, true, textured ? "RibsNormal.png" : ""});
    write_gltf(place / "each.gltf", subject(), {nodes, false, textured ? "RibsNormal.png" : ""});
    if (textured) fs::copy_file(ribs, place / "RibsNormal.png");
}

}  // namespace

TEST_SUITE_BEGIN("cli.models");

TEST_CASE("copies are stored once, listed as parts, and told in inspect") {
    const Place place;
    write_gltf(place / "once.gltf", subject(), {nodes});
    write_gltf(place / "each.gltf", subject(), {nodes, false});
    const auto facts = [&](const char* name) {
        const Ended ended = rakelight({"inspect", place / name, "--json"});
        REQUIRE(ended.code == 0);
        return Json::parse(ended.out);
    };
    const Json once = facts("once.gltf"), each = facts("each.gltf");
    const auto triangles = subject().triangles.size();
    CHECK(once.at("triangles") == nodes.size() * triangles);
    CHECK(each.at("triangles") == nodes.size() * triangles);
    CHECK(once.at("copies") == 5);
    CHECK(once.at("stored_triangles") == 2 * triangles);
    CHECK(each.at("copies") == 0);
    CHECK(once.at("parts").size() == nodes.size());
    std::map<std::string, double> shares;
    for (const Json& part : each.at("parts")) shares[part.at("name")] = part.at("seen_share");
    int copies = 0;
    for (const Json& part : once.at("parts")) {
        copies += part.contains("copy_of");
        if (part.contains("copy_of")) CHECK(part.at("copy_of") == "piece0");
        // Of some 60,000 pixels a piece, those at edges may differ.
        CHECK(double{part.at("seen_share")} ==
              doctest::Approx(shares.at(part.at("name"))).epsilon(1e-3));
    }
    CHECK(copies == 5);
    const Ended text = rakelight({"inspect", place / "once.gltf"});
    CHECK(contains(text.out, "copies     5; "));
    CHECK(contains(text.out, "copy of piece0"));
}

TEST_CASE("a picture of copies is that of parts of their own") {
    const Place place;
    SceneText scene;
    scene.framing = "";
    scene.passes =
        "[pass.depth]\n[pass.normal]\n[pass.occlusion]\n[pass.curvature]\n[pass.silhouette]\n"
        "[pass.contour]\n[pass.parts]\nnames = [\"piece2\", \"piece6\"]\n";
    scene.pose = "yaw_deg = 25.0\npitch_deg = 20.0\n";
    SUBCASE("parallel") {}
    SUBCASE("perspective") {
        scene.pose += "projection = \"perspective\"\nview_deg = 60.0\n";
    }
    write_both(place, false);
    const Both both = render_both(place, scene, {});
    for (const char* pass : {"depth", "normal", "occlusion", "curvature", "silhouette", "contour",
                             "part-piece2", "part-piece6"})
        check_alike(both.once, both.each, pass);
    CHECK(double{both.once.numbers("depth").at("near_mm")} ==
          doctest::Approx(double{both.each.numbers("depth").at("near_mm")}).epsilon(1e-5));
}

// So large that corners lie beyond what a raster counts to, 131,072 px: each triangle is 400,000 px
// long, and those that are seen are cut.
TEST_CASE("copies that reach far out of the picture are cut as others are") {
    const Place place;
    const std::vector<std::string> row{R"("translation":[-5,0,0])", R"("translation":[5,0,0])",
                                       R"("rotation":[0.1825742,0.3651484,0.5477226,0.7302967])"};
    write_gltf(place / "once.gltf", sphere(1.0, 20), {row});
    write_gltf(place / "each.gltf", sphere(1.0, 20), {row, false});
    SceneText scene;
    scene.passes = "[pass.depth]\n[pass.normal]\n[pass.silhouette]\n";
    scene.pose = "pitch_deg = 10.0\n";
    scene.framing = "fit = \"none\"\nmm_per_unit = 200000.0\n";
    const Both both = render_both(place, scene, {});
    check_alike(both.once, both.each, "normal");
    const Picture one = read_picture(both.once.folder / "depth.png");
    const Picture other = read_picture(both.each.folder / "depth.png");
    const DepthReader one_mm(both.once.numbers("depth")), other_mm(both.each.numbers("depth"));
    // Three roundings of coordinates up to 6 to single precision, half of 2^-21 units each.
    const double rounding_mm = 1.5 / 2097152.0 * 200000.0;
    for (std::size_t i = 0; i < one.codes.size(); ++i)
        REQUIRE(std::abs(one_mm.depth_mm(one.codes[i]) - other_mm.depth_mm(other.codes[i])) <=
                rounding_mm);
    const Picture silhouette = read_picture(both.once.folder / "silhouette.png");
    CHECK(silhouette.at(silhouette.width / 2, silhouette.height / 2) == 65535);
}

TEST_CASE("OpenGL draws copies where they are") {
    if (rakelight({"graphics", "--context", "egl"}).code != 0) {
        MESSAGE("skipped: no driver through EGL");
        return;
    }
    const Place place;
    SceneText scene;
    scene.framing = "";
    scene.passes = "[pass.depth]\n[pass.normal]\n[pass.silhouette]\n[pass.contour]\n";
    SUBCASE("parallel") {
        scene.pose = "yaw_deg = 25.0\n";
    }
    SUBCASE("perspective") {
        scene.pose = "yaw_deg = 25.0\nprojection = \"perspective\"\nview_deg = 60.0\n";
    }
    write_both(place, false);
    const Both both = render_both(place, scene, {"--context", "egl"});
    CHECK(both.once.manifest.at("graphics").at("context") != "processor");
    for (const char* pass : {"depth", "normal", "silhouette", "contour"})
        check_alike(both.once, both.each, pass);
}

TEST_CASE("detail in pictures follows the copies of its part") {
    const Place place;
    SceneText scene;
    scene.framing = "";
    scene.passes = "[pass.normal]\n[pass.depth]\n";
    write_both(place, true);
    const Both both = render_both(place, scene, {});
    for (const char* pass : {"normal", "depth"}) check_alike(both.once, both.each, pass);
    // The ribs are there: without them the normals are others.
    scene.model = "file = \"once.gltf\"\ntexture_detail = \"none\"\n";
    scene.image = "px_per_mm = 20.0\n";
    const Rendered plain = render(place, scene, "plain");
    CHECK(read_file(plain.folder / "normal.png") != read_file(both.once.folder / "normal.png"));
}

TEST_SUITE_END();
