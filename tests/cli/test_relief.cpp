// The height map as a user gets it: its file, its numbers, its polarity.

#include <functional>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

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

namespace {

/// A grey TGA of the simplest kind: 8 bits, rows from the top.
std::string grey_tga(int width, int height, const std::function<int(int x, int y)>& grey) {
    std::string bytes(18, '\0');
    bytes[2] = 3;  // grey, not compressed
    bytes[12] = static_cast<char>(width & 255);
    bytes[13] = static_cast<char>(width >> 8);
    bytes[14] = static_cast<char>(height & 255);
    bytes[15] = static_cast<char>(height >> 8);
    bytes[16] = 8;
    bytes[17] = 0x20;
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) bytes += static_cast<char>(grey(x, y));
    return bytes;
}

const char* const mark =
    "[relief.source.mark]\nimage = 'mark.tga'\nwidth_mm = 4.0\ncentre_mm = [5.0, -3.0]\n"
    "[[relief.layer]]\nsource = 'mark'\nplace = 'piece'\nmix = 'add'\namount_mm = 1.0\n";

}  // namespace

TEST_CASE("a picture of the user's lies where it is put, and its codes count as they stand") {
    const Place place;
    write_ply(place / "model.ply", box({-2, -2, 0}, {2, 2, 1}));
    write_file(place / "mark.tga", grey_tga(2, 2, [](int x, int y) { return 51 * (x + 2 * y); }));
    const Rendered done = render(place, with_relief("height_mm = 2.0\n" + std::string(mark)));
    const Picture relief = read_picture(done.folder / "relief.png");
    const double mm = done.numbers("relief").at("mm_per_code").get<double>();
    // A round blank of 20 mm at 10 px/mm: the middles of the outer quarters, beyond which a pixel
    // of the picture is level.
    CHECK(relief.at(130 + 4, 110 + 4) * mm == doctest::Approx(0.0).epsilon(1e-4).scale(1.0));
    CHECK(relief.at(170 - 5, 110 + 4) * mm == doctest::Approx(0.2).epsilon(1e-3));
    CHECK(relief.at(130 + 4, 150 - 5) * mm == doctest::Approx(0.4).epsilon(1e-3));
    CHECK(relief.at(170 - 5, 150 - 5) * mm == doctest::Approx(0.6).epsilon(1e-3));
    CHECK(relief.at(128, 130) == 0);
    CHECK(relief.at(172, 145) == 0);
}

TEST_CASE("a picture that is none is refused, and nothing is written") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "scene.toml", with_relief(mark).text());
    const auto refused = [&](const Words& words) {
        check_refused(rakelight({"render", place / "scene.toml", "--out", place / "out"}), 3,
                      words);
        CHECK_FALSE(fs::exists(place / "out"));
        check_refused(rakelight({"check", place / "scene.toml"}), 3, words);
    };
    refused({"[relief.source.mark] image", "mark.tga", "cannot be read"});
    write_file(place / "mark.tga", "no picture");
    refused({"[relief.source.mark] image", "mark.tga", "expected PNG"});
    fs::remove(place / "mark.tga");
    fs::create_directory(place / "mark.tga");
    refused({"mark.tga", "cannot be read"});
}

TEST_CASE("a part is a mask for a layer, once it is a pass") {
    const Place place;
    write_obj(place / "model.obj", box({-4, -4, 0}, {0, 4, 1}), box({1, -4, 0}, {4, 4, 1}));
    SceneText scene = with_relief(
        "height_mm = 2.0\n[relief.source.right]\npart = 'stand'\n"
        "[[relief.layer]]\nsource = 'silhouette'\nmask = 'right'\n");
    scene.model = "file = 'model.obj'\nup = '+y'\n";
    write_file(place / "scene.toml", scene.text());
    check_refused(rakelight({"check", place / "scene.toml"}), 3,
                  {"[relief.source.right] part", "has no mask", "[pass.parts]"});
    scene.passes += "[pass.parts]\nnames = ['stand']\n";
    const Rendered done = render(place, scene);
    const Picture relief = read_picture(done.folder / "relief.png");
    CHECK(relief.at(80, 100) == 0);
    CHECK(relief.at(125, 100) == 65535);
}

TEST_CASE("a part's own depth fills the range") {
    const Place place;
    // Two slopes side by side: the lower one alone goes from 0 to 1.
    const auto slope = [](double low_x, double high_x, double rise) {
        return polygon({{low_x, -4, 0}, {high_x, -4, rise}, {high_x, 4, rise}, {low_x, 4, 0}});
    };
    write_obj(place / "model.obj", slope(-4, 0, 3.0), slope(0, 4, 0.8));
    SceneText scene = with_relief(
        "height_mm = 2.0\n[relief.source.own]\npart = 'stand'\ndepth = true\n"
        "[[relief.layer]]\nsource = 'own'\n");
    scene.model = "file = 'model.obj'\nup = '+y'\n";
    scene.passes += "[pass.parts]\nnames = ['stand']\n";
    write_file(place / "scene.toml", scene.text());
    check_refused(rakelight({"check", place / "scene.toml"}), 3,
                  {"[relief.source.own] part", "depth = true in [pass.parts]"});
    scene.passes += "depth = true\n";
    const Picture relief = read_picture(render(place, scene).folder / "relief.png");
    // Pixel middles from x = 0.05 to 3.95 mm.
    for (int x = 100; x < 140; ++x)
        CHECK(relief.at(x, 100) / 65535.0 == doctest::Approx((x - 100) / 39.0).epsilon(1e-3));
    CHECK(relief.at(70, 100) == 0);
}

TEST_CASE("recipes and pictures are what a build depends on") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "mark.tga", grey_tga(2, 2, [](int, int) { return 255; }));
    write_file(place / "soft.toml", "[relief]\nheight_mm = 1.5\n" + std::string(mark));
    write_file(place / "scene.toml", with_relief("recipe = 'soft.toml'\n").text());
    const Ended ended = rakelight({"render", place / "scene.toml", "--out", place / "out",
                                   "--no-proof", "--depfile", place / "out.d"});
    CHECK(ended.code == 0);
    const std::string rule = read_file(place / "out.d");
    CHECK(contains(rule, "soft.toml"));
    CHECK(contains(rule, "mark.tga"));
    // Another picture, another pose: the sweep makes it anew.
    write_file(place / "scene.toml",
               with_relief("recipe = 'soft.toml'\n[poses]\nyaw_deg = [0, 10]\n").text());
    const Words sweep{"poses", place / "scene.toml", "--passes", "--out", place / "poses"};
    CHECK(rakelight(sweep).code == 0);
    const auto relief = [&] { return read_file(place / "poses" / "yaw10" / "relief.png"); };
    const std::string before = relief();
    write_file(place / "mark.tga", grey_tga(2, 2, [](int, int) { return 100; }));
    CHECK(rakelight(sweep).code == 0);
    CHECK(relief() != before);
}

TEST_CASE("heights as floats are the map without its rounding") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const Rendered done = render(place, with_relief("floats = true\nmirrored = true\n"));
    CHECK(done.manifest.at("files_beside").at(0).at("file") == "relief.tiff");
    const Floats floats = read_float_tiff(done.folder / "relief.tiff");
    const Picture relief = read_picture(done.folder / "relief.png");
    REQUIRE(floats.width == relief.width);
    REQUIRE(floats.height == relief.height);
    CHECK(floats.px_per_cm == 100.0);
    const Json& numbers = done.numbers("relief");
    double worst = 0.0;
    for (int y = 0; y < relief.height; ++y) {
        for (int x = 0; x < relief.width; ++x) {
            const double mm = relief.at(x, y) * numbers.at("mm_per_code").get<double>();
            worst = std::max(worst, std::abs(mm - floats.at(x, y)));
        }
    }
    CHECK(worst < numbers.at("worst_error_mm").get<double>() + 1e-6);
    CHECK(worst > 0.0);
}

TEST_CASE("limits of making are shown, counted and warned of; the map stays") {
    const Place place;
    // A plate on the field with a rib 0.6 mm wide on it: 2 mm high in all, the rib half of it.
    write_ply(place / "model.ply",
              joined(box({-6, -4, 0}, {6, 4, 1}), box({-0.3, -3, 1}, {0.3, 3, 2})));
    const std::string depth = depth_alone;
    const std::string limits =
        "[relief.making]\ntallest_mm = 1.5\nridge_mm = 1.0\nwall_deg = 60\nsteps = 256\n";
    const Rendered plain = render(place, with_relief(depth), "plain");
    const Rendered done = render(place, with_relief(limits + depth), "done");
    CHECK(read_file(plain.folder / "relief.png") == read_file(done.folder / "relief.png"));
    CHECK_FALSE(fs::exists(plain.folder / "relief-limits.png"));

    const Json& passes = done.manifest.at("passes");
    const Json& shown = passes.at(passes.size() - 2);
    REQUIRE(shown.at("name") == "relief-limits");
    const Json& figures = shown.at("figures");
    CAPTURE(figures.dump());
    // The rib is 6 pixels wide and 60 long at 10 a mm, the blank a disc of 20 mm.
    CHECK(figures.at("ridges_lost_mm2").get<double>() == doctest::Approx(3.6).epsilon(0.1));
    const double blank_mm2 = 3.14159 * 100.0;
    CHECK(figures.at("ridges_lost_share").get<double>() ==
          doctest::Approx(figures.at("ridges_lost_mm2").get<double>() / blank_mm2).epsilon(0.001));
    CHECK(figures.at("too_tall_mm2").get<double>() == doctest::Approx(3.6).epsilon(0.1));
    CHECK(figures.at("too_tall_worst_mm").get<double>() == doctest::Approx(0.5));
    CHECK(figures.at("steep_walls_worst_deg").get<double>() > 80.0);
    CHECK_FALSE(figures.contains("grooves_filled_share"));
    const std::string warnings = done.manifest.at("warnings").dump();
    CHECK(contains(warnings, "the relief-limits pass: ridges narrower than ridge_mm = 1 are lost"));
    CHECK(contains(warnings, "higher than tallest_mm = 1.5"));
    CHECK(contains(warnings, "steeper than wall_deg = 60"));
    CHECK(contains(done.ended.err, "ridges narrower"));

    const Picture picture = read_picture(done.folder / "relief-limits.png");
    REQUIRE(picture.channels == 3);
    const double whole_mm = shown.at("numbers").at("whole_mm");
    // On the rib, what is lost comes down to the plate; beside it nothing is wrong.
    const Picture relief = read_picture(done.folder / "relief.png");
    CHECK(picture.at(100, 100, 0) == relief.at(100, 100) - relief.at(130, 100));
    CHECK(picture.at(100, 100, 2) == 43690);  // too tall, level
    for (int channel = 0; channel < 3; ++channel) CHECK(picture.at(130, 100, channel) == 0);
    CHECK(whole_mm == 2.0);
    CHECK(figures.at("ridges_lost_worst_mm").get<double>() ==
          doctest::Approx(picture.at(100, 100) * whole_mm / 65535.0).epsilon(1e-3));

    const Json& stepped = passes.back();
    REQUIRE(stepped.at("name") == "relief-steps");
    const double step_mm = stepped.at("numbers").at("step_mm");
    CHECK(step_mm == doctest::Approx(2.0 / 255.0));
    const Picture steps = read_picture(done.folder / "relief-steps.png");
    CHECK(steps.at(5, 100) == 32768);  // the field is a step
    for (const int x : {100, 130}) {
        const double mm = relief.at(x, 100) * whole_mm / 65535.0;
        const double beside_mm = mm - std::round(mm / step_mm) * step_mm;
        // A code of each.
        CHECK(std::abs((steps.at(x, 100) - 32768) * 0.5 * step_mm / 32767.0 - beside_mm) < 4e-5);
    }
}

TEST_CASE("limits of making are mirrored with the map; check names their files") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const std::string limits =
        "[relief.making]\nridge_mm = 1.5\ngroove_mm = 1.5\ncutter = 'ball'\nstep_mm = 0.05\n";
    const Rendered plain = render(place, with_relief(limits), "plain");
    const Rendered turned = render(place, with_relief("mirrored = true\n" + limits), "turned");
    for (const char* file : {"relief-limits.png", "relief-steps.png"}) {
        const Picture a = read_picture(plain.folder / file);
        const Picture b = read_picture(turned.folder / file);
        int differing = 0, found = 0;
        for (int y = 0; y < a.height; ++y) {
            for (int x = 0; x < a.width; ++x) {
                for (int c = 0; c < a.channels; ++c) {
                    differing += a.at(x, y, c) != b.at(a.width - 1 - x, y, c);
                    found += a.at(x, y, c) != a.at(0, 0, c);
                }
            }
        }
        CHECK(differing == 0);
        CHECK(found > 20);
    }
    write_file(place / "scene.toml", with_relief(limits).text());
    const std::string files =
        rakelight({"render", place / "scene.toml", "--dry-run", "--no-proof"}).out;
    CHECK(contains(files, "relief-limits.png"));
    CHECK(contains(files, "relief-steps.png"));
}
