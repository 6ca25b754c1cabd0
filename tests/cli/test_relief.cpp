// The height map as a user gets it: its file, its numbers, its polarity.

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

SceneText with_relief(const std::string& relief) {
    SceneText scene;
    scene.more = "[relief]\n" + relief;
    return scene;
}

const char* const depth_alone = "[[relief.layer]]\nsource = 'depth'\n";

}  // namespace

TEST_SUITE_BEGIN("cli.relief");

TEST_CASE("depth alone is the depth pass in mm, the lowest point on the field") {
    const Place place;
    write_ply(place / "model.ply", sphere(8.0, 48));
    const Rendered done =
        render(place, with_relief("height_mm = 2.0\n" + std::string(depth_alone)));
    CHECK(done.numbers("relief").at("whole_mm") == 2.0);
    const Picture relief = read_picture(done.folder / "relief.png");
    const Picture depth = read_picture(done.folder / "depth.png");
    const Picture cover = read_picture(done.folder / "silhouette.png");
    REQUIRE(relief.width == depth.width);
    const Json& numbers = done.numbers("depth");
    const double share =
        1.0 - numbers.at("near_margin").get<double>() - numbers.at("far_margin").get<double>();
    int compared = 0;
    for (int y = 0; y < relief.height; ++y) {
        for (int x = 0; x < relief.width; ++x) {
            if (cover.at(x, y) == 0) CHECK(relief.at(x, y) == 0);
            if (cover.at(x, y) != 65535) continue;
            const double expected =
                (depth.at(x, y) / 65535.0 - numbers.at("far_margin").get<double>()) / share;
            // Half a code of each.
            CHECK(std::abs(relief.at(x, y) / 65535.0 - expected) < 1.1 / 65535.0);
            ++compared;
        }
    }
    CHECK(compared > 10000);
}

TEST_CASE("sunk is the negative, mirrored the mirror image; the passes stay") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const Rendered plain = render(place, with_relief(""), "plain");
    const Rendered turned = render(place, with_relief("sunk = true\nmirrored = true\n"), "turned");
    const Picture a = read_picture(plain.folder / "relief.png");
    const Picture b = read_picture(turned.folder / "relief.png");
    int worst = 0, high = 0;
    for (int y = 0; y < a.height; ++y) {
        for (int x = 0; x < a.width; ++x) {
            worst = std::max(worst, std::abs(65535 - a.at(x, y) - b.at(a.width - 1 - x, y)));
            high = std::max(high, a.at(x, y));
        }
    }
    CHECK(worst <= 1);
    CHECK(high == 65535);
    CHECK(read_file(plain.folder / "depth.png") == read_file(turned.folder / "depth.png"));
    CHECK(contains(turned.manifest.dump(), "bright is low; left and right exchanged"));
}

TEST_CASE("a recipe asks for what it needs, whether it is a pass or not; twice the same bytes") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const SceneText scene = with_relief(
        "[[relief.layer]]\nsource = 'forms'\n[[relief.layer]]\nsource = 'occlusion'\n"
        "mix = 'multiply'\nmask = 'contour'\n[[relief.layer]]\nsource = 'curvature'\n"
        "mix = 'add'\namount_mm = 0.2\n");
    const Rendered once = render(place, scene, "once");
    const Rendered again = render(place, scene, "again");
    CHECK_FALSE(fs::exists(once.folder / "occlusion.png"));
    CHECK(once.manifest.at("passes").back().at("name") == "relief");
    CHECK(once.manifest.at("passes").back().at("figures").contains("layer_3_clipped_share"));
    CHECK(read_file(once.folder / "relief.png") == read_file(again.folder / "relief.png"));
    // The passes asked for beside it settle how it looks: another reach is another relief.
    SceneText short_reach = scene;
    short_reach.passes += "[pass.occlusion]\nreach_mm = 0.3\n";
    const Rendered other = render(place, short_reach, "other");
    CHECK(read_file(once.folder / "relief.png") != read_file(other.folder / "relief.png"));
}

TEST_CASE("check names the file, a fault in a layer its line") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "scene.toml", with_relief("").text());
    CHECK(contains(rakelight({"check", place / "scene.toml"}).out, "relief    2 mm high"));
    CHECK(contains(rakelight({"render", place / "scene.toml", "--dry-run", "--no-proof"}).out +
                       rakelight({"render", place / "scene.toml", "--dry-run"}).out,
                   "relief.png"));
    write_file(place / "scene.toml", with_relief("[[relief.layer]]\nsource = 'froms'\n").text());
    check_refused(rakelight({"render", place / "scene.toml"}), 3, {"Did you mean \"forms\"?"});
}
