// Fades and what lies under them, against the blank's geometry.

#include <doctest/doctest.h>

#include <cmath>
#include <functional>

#include "relief/finish.hpp"
#include "relief/height_normals.hpp"

using namespace rakelight;

namespace {

constexpr double px_per_mm = 10.0;

BlankSettings blank_of(BlankShape shape, double width_mm, double height_mm) {
    BlankSettings blank;
    blank.shape = shape;
    blank.width_mm = width_mm;
    blank.height_mm = height_mm;
    blank.rim_mm = 2.0;  // 0.9 mm high, by its width
    return blank;
}

ImageGrid grid_of(const BlankSettings& blank) {
    return make_grid(BlankGeometry(blank), {Covers::blank, px_per_mm, 4});
}

/// A subject that covers all and is level: at base_mm, 1 mm, before it fades.
ReliefPlanes level_subject(const ImageGrid& grid) {
    ReliefPlanes planes;
    planes.coverage = Plane(grid.width, grid.height, 1.0F);
    planes.height_mm = Plane(grid.width, grid.height, 3.0F);
    return planes;
}

ReliefPlanes no_subject(const ImageGrid& grid) {
    ReliefPlanes planes = level_subject(grid);
    planes.coverage = Plane(grid.width, grid.height);
    return planes;
}

ReliefSettings level_settings() {
    ReliefSettings settings;
    settings.base_mm = 1.0;
    settings.height_mm = 2.0;
    ReliefLayer depth;
    depth.source = ReliefSource::depth;
    settings.layers = {depth};
    return settings;
}

double smooth(double t) {
    t = std::min(std::max(t, 0.0), 1.0);
    return t * t * (3.0 - 2.0 * t);
}

/// Compares all pixels whose middle lies inside the outline by at least half a pixel.
void check_heights(const Relief& relief, const ImageGrid& grid, const BlankSettings& blank,
                   const std::function<double(double x, double y)>& expected_mm) {
    const BlankGeometry geometry(blank);
    int compared = 0;
    double worst = 0.0;
    for (int y = 0; y < grid.height; ++y) {
        for (int x = 0; x < grid.width; ++x) {
            const glm::dvec2 p = grid.centre_of(x, y);
            if (geometry.outline_distance_mm(p) > -0.5 / px_per_mm) continue;
            worst = std::max(worst, std::abs(relief.height_mm.at(x, y) - expected_mm(p.x, p.y)));
            ++compared;
        }
    }
    CHECK(compared > 10000);
    CHECK(worst < 1e-5);  // floats of millimetres
}

}  // namespace

TEST_CASE("fade: tucked under the rim, along the real outline of each shape") {
    // Distances inside the blank's edge by other formulas than the program's.
    struct Case {
        BlankSettings blank;
        std::function<double(double x, double y)> inside_mm;
    };
    const Case cases[] = {
        {blank_of(BlankShape::round, 20, 20),
         [](double x, double y) { return 10.0 - std::hypot(x, y); }},
        {blank_of(BlankShape::rectangle, 24, 16),
         [](double x, double y) { return std::min(12.0 - std::abs(x), 8.0 - std::abs(y)); }},
        {blank_of(BlankShape::tag, 14, 26),
         [](double x, double y) { return 7.0 - std::hypot(x, std::max(0.0, std::abs(y) - 6.0)); }}};
    for (const Case& one : cases) {
        const ImageGrid grid = grid_of(one.blank);
        ReliefSettings settings = level_settings();
        settings.fade.rim_mm = 3.0;
        settings.fade.rim_below_mm = 0.3;
        const Relief relief =
            finish_relief(settings, level_subject(grid), BlankGeometry(one.blank), grid);
        // At the rim 3 mm of relief would end at 0.9 - 0.3; this one has a third of that.
        const double end = 0.6 / 3.0;
        check_heights(relief, grid, one.blank, [&](double x, double y) {
            return end + (1.0 - end) * smooth((one.inside_mm(x, y) - 2.0) / 3.0);
        });
    }
}

TEST_CASE("fade: nothing of the highest relief stands over the rim where it meets it") {
    BlankSettings blank = blank_of(BlankShape::round, 20, 20);
    blank.rim_height_mm = 0.5;
    const ImageGrid grid = grid_of(blank);
    ReliefSettings settings = level_settings();
    settings.base_mm = 0.0;
    ReliefPlanes planes = level_subject(grid);
    planes.height_mm.at(0, 0) = -7.0F;  // so that all else is 2 mm high
    settings.fade.rim_mm = 2.0;
    const Relief relief = finish_relief(settings, planes, BlankGeometry(blank), grid);
    check_heights(relief, grid, blank, [](double x, double y) {
        return 2.0 * (0.2 + 0.8 * smooth((8.0 - std::hypot(x, y)) / 2.0));
    });
    settings.fade.rim_below_mm = 9.0;  // below the field: ends at the field
    const Relief deep = finish_relief(settings, planes, BlankGeometry(blank), grid);
    check_heights(deep, grid, blank,
                  [](double x, double y) { return 2.0 * smooth((8.0 - std::hypot(x, y)) / 2.0); });
}

TEST_CASE("fade: into the exergue above its line") {
    BlankSettings blank = blank_of(BlankShape::round, 20, 20);
    blank.exergue_mm = 4.0;  // its line 4 mm below the middle
    const ImageGrid grid = grid_of(blank);
    ReliefSettings settings = level_settings();
    settings.fade.exergue_mm = 2.5;
    check_heights(finish_relief(settings, level_subject(grid), BlankGeometry(blank), grid), grid,
                  blank, [](double, double y) { return smooth((y + 4.0) / 2.5); });
    settings.fade.exergue_line_mm = 1.0;
    check_heights(finish_relief(settings, level_subject(grid), BlankGeometry(blank), grid), grid,
                  blank, [](double, double y) { return smooth((y - 1.0) / 2.5); });
}

TEST_CASE("fade: rounded at the silhouette like a quarter of an ellipse") {
    const BlankSettings blank = blank_of(BlankShape::round, 30, 30);
    const ImageGrid grid = grid_of(blank);
    ReliefPlanes planes = level_subject(grid);
    const double radius = 8.0, width = 2.0;
    for (int y = 0; y < grid.height; ++y) {
        for (int x = 0; x < grid.width; ++x) {
            int inside = 0;
            for (int s = 0; s < 256; ++s) {
                const double dx = (s % 16 + 0.5) / 16 - 0.5, dy = (s / 16 + 0.5) / 16 - 0.5;
                const glm::dvec2 p = grid.centre_of(x, y) + glm::dvec2(dx, dy) / px_per_mm;
                inside += glm::length(p) < radius ? 1 : 0;
            }
            planes.coverage.at(x, y) = static_cast<float>(inside / 256.0);
        }
    }
    ReliefSettings settings = level_settings();
    settings.fade.edge_mm = width;
    const Relief relief = finish_relief(settings, planes, BlankGeometry(blank), grid);
    for (int y = 0; y < grid.height; ++y) {
        for (int x = 0; x < grid.width; ++x) {
            const double d = radius - glm::length(grid.centre_of(x, y));
            const double h = relief.height_mm.at(x, y);
            if (d < -0.75 / px_per_mm) CHECK(h == 0.0);  // half a diagonal is 0.71 px
            if (d < 1.5 / px_per_mm) continue;
            const double out = std::max(0.0, 1.0 - d / width);
            const double expected = std::sqrt(1.0 - out * out);
            // A twentieth of a pixel of distance on the slope there, and the mean over the pixel,
            // which is off by a 24th of the second derivative.
            const double slope = out / expected / width, bend = 1.0 / std::pow(expected, 3) / 4.0;
            CHECK(std::abs(h - expected) <
                  0.05 * slope / px_per_mm + bend / 24.0 / (px_per_mm * px_per_mm) + 1e-4);
        }
    }
}

TEST_CASE("ground: a dome of the field, a dish, and what codes reach from and to") {
    for (const double dome : {0.8, -0.6}) {
        CAPTURE(dome);
        ReliefSettings settings = level_settings();
        settings.dome_mm = dome;
        BlankSettings blank = blank_of(BlankShape::oval, 24, 16);  // field: half axes 10 and 6
        ImageGrid grid = grid_of(blank);
        const BlankGeometry oval(blank);
        Relief relief = finish_relief(settings, no_subject(grid), oval, grid);
        check_heights(relief, grid, blank, [&](double x, double y) {
            // The field's edge runs 2 mm inside the blank's: no ellipse, so that the dome, which is
            // one, ends there or before.
            const bool field = oval.field_distance_mm({x, y}) < 0.0;
            return field ? dome * std::max(0.0, 1.0 - x * x / 100.0 - y * y / 36.0) : 0.0;
        });
        CHECK(relief.low_mm == std::min(0.0, dome));
        CHECK(relief.high_mm == 3.0 + std::max(0.0, dome));
        blank = blank_of(BlankShape::rectangle, 24, 16);
        grid = grid_of(blank);
        relief = finish_relief(settings, level_subject(grid), BlankGeometry(blank), grid);
        check_heights(relief, grid, blank, [&](double x, double y) {
            const double share =
                std::max(0.0, 1.0 - x * x / 100.0) * std::max(0.0, 1.0 - y * y / 36.0);
            return 1.0 + dome * share;
        });
    }
}

TEST_CASE("ground: exactly the field outside the subject, the rim where it is wanted") {
    const BlankSettings blank = blank_of(BlankShape::round, 20, 20);
    const ImageGrid grid = grid_of(blank);
    ReliefSettings settings = level_settings();
    Relief relief = finish_relief(settings, no_subject(grid), BlankGeometry(blank), grid);
    for (const float h : relief.height_mm.values) CHECK(h == 0.0F);
    settings.rim = true;
    relief = finish_relief(settings, no_subject(grid), BlankGeometry(blank), grid);
    double rim_mm2 = 0.0;
    for (int y = 0; y < grid.height; ++y) {
        for (int x = 0; x < grid.width; ++x) {
            const double r = glm::length(grid.centre_of(x, y));
            const float h = relief.height_mm.at(x, y);
            if (r < 8.0 - 0.05 || r > 10.0 + 0.05) CHECK(h == 0.0F);
            if (r > 8.0 + 0.05 && r < 10.0 - 0.05) CHECK(h == doctest::Approx(0.9));
            rim_mm2 += h / 0.9 / (px_per_mm * px_per_mm);
        }
    }
    // What stands higher than the rim stays so.
    relief = finish_relief(settings, level_subject(grid), BlankGeometry(blank), grid);
    CHECK(relief.height_mm.at(10, grid.height / 2) == 1.0F);
    CHECK(rim_mm2 == doctest::Approx(M_PI * (100.0 - 64.0)).epsilon(1e-3));
}

TEST_CASE("layers beyond the subject are added to the field it leaves, or to all") {
    BlankSettings blank = blank_of(BlankShape::round, 20, 20);
    const ImageGrid grid = grid_of(blank);
    ReliefPlanes planes = level_subject(grid);
    for (int y = 0; y < grid.height; ++y)
        for (int x = 0; x < grid.width / 2; ++x) planes.coverage.at(x, y) = 0.0F;
    planes.named = {{Plane(grid.width, grid.height, 0.5F), {}}};
    ReliefSettings settings = level_settings();
    settings.sources = {{"half", RegionSource{"blank"}}};
    ReliefLayer added;
    added.source = SourceChoice(ReliefSource::named, 0);
    added.mix = MixMode::add;
    added.amount_mm = -0.4;
    added.place = LayerPlace::field;
    settings.layers.push_back(added);
    const auto near_middle = [&](const Relief& relief, double x_mm) {
        return relief.height_mm.at(static_cast<int>((x_mm + 10.0) * px_per_mm), grid.height / 2);
    };
    const Relief field = finish_relief(settings, planes, BlankGeometry(blank), grid);
    CHECK(near_middle(field, -3.0) == doctest::Approx(-0.2));
    CHECK(near_middle(field, 3.0) == doctest::Approx(1.0));
    CHECK(near_middle(field, -9.0) == 0.0F);  // the rim is no field
    CHECK(field.low_mm == doctest::Approx(-0.4));
    settings.layers.back().place = LayerPlace::piece;
    settings.layers.back().amount_mm = 0.4;
    const Relief piece = finish_relief(settings, planes, BlankGeometry(blank), grid);
    CHECK(near_middle(piece, -3.0) == doctest::Approx(0.2));
    CHECK(near_middle(piece, 3.0) == doctest::Approx(1.2));
    CHECK(near_middle(piece, -9.0) == doctest::Approx(0.2));
    CHECK(piece.high_mm == doctest::Approx(3.4));
    // Where the exergue took the subject, its field is free.
    blank.exergue_mm = 6.0;
    settings.layers.back().place = LayerPlace::field;
    settings.fade.exergue_mm = 1.0;
    const Relief exergue = finish_relief(settings, planes, BlankGeometry(blank), grid);
    CHECK(exergue.height_mm.at(130, 160) == doctest::Approx(0.2));
}

// Belhumeur, Kriegman and Yuille 1999 ("The Bas-Relief Ambiguity", IJCV 35(1)): with heights times
// k, b = albedo times normal becomes (b_x, b_y, b_z / k), and under the lamp (s_x, s_y, k s_z) the
// surface looks the same: b' . s' = b . s. Divided by b_z each side is free of the albedo.
TEST_CASE("a relief twice as high under a lamp twice as high keeps its shading") {
    const BlankSettings blank = blank_of(BlankShape::round, 20, 20);
    const ImageGrid grid = grid_of(blank);
    ReliefPlanes planes = level_subject(grid);
    for (int y = 0; y < grid.height; ++y) {
        for (int x = 0; x < grid.width; ++x) {
            const glm::dvec2 p = grid.centre_of(x, y);
            planes.height_mm.at(x, y) =
                static_cast<float>(std::sin(p.x) * std::cos(0.7 * p.y) + 0.2 * std::sin(5.0 * p.x));
        }
    }
    ReliefSettings settings = level_settings();
    settings.base_mm = 0.0;
    settings.height_mm = 0.8;
    const auto normals = [&] {
        return normals_of(finish_relief(settings, planes, BlankGeometry(blank), grid).height_mm,
                          px_per_mm);
    };
    const HeightNormals low = normals();
    settings.height_mm = 1.6;
    const HeightNormals high = normals();
    const glm::dvec3 lamp(-0.6, 0.5, 0.2);
    const glm::dvec3 raised(lamp.x, lamp.y, 2.0 * lamp.z);
    const auto seen = [](const HeightNormals& n, std::size_t i, glm::dvec3 light) {
        const glm::dvec3 normal(n.x.values[i], n.y.values[i], n.z.values[i]);
        return glm::dot(normal, light) / normal.z;
    };
    int shaded = 0;
    for (int y = 60; y < 140; ++y) {
        for (int x = 60; x < 140; ++x) {
            const std::size_t i = static_cast<std::size_t>(y) * grid.width + x;
            const double one = seen(low, i, lamp), two = seen(high, i, raised);
            // 2 px of floats of about a millimetre, over 0.2 mm.
            CHECK(two == doctest::Approx(2.0 * one).epsilon(1e-4).scale(1.0));
            shaded += one < 0.0 ? 1 : 0;
        }
    }
    CHECK(shaded > 100);  // shadows are in it, and stay where they are
}
