// What lies ahead of a point, and the shadows it casts, against plane geometry.

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "struck/horizon.hpp"
#include "struck/patina.hpp"

using namespace rakelight;

namespace {

double radians(double degrees) {
    return degrees * std::numbers::pi / 180.0;
}

/// A plateau of `height_mm` right of the column `x0`, on a picture of 10 px/mm.
Plane step_at(int x0, float height_mm) {
    Plane heights(201, 121);
    for (int y = 0; y < heights.height; ++y)
        for (int x = x0; x < heights.width; ++x) heights.at(x, y) = height_mm;
    return heights;
}

Plane slope_of(double right, double up) {
    Plane plane(61, 41);
    for (int y = 0; y < plane.height; ++y)
        for (int x = 0; x < plane.width; ++x)
            plane.at(x, y) = static_cast<float>((right * x - up * y) / 10.0);
    return plane;
}

}  // namespace

TEST_CASE("horizon: on a plane it is the plane's own slope in every direction") {
    const Plane plane = slope_of(0.3, -0.2);
    for (double degrees = -170.0; degrees < 360.0; degrees += 35.0) {
        const Plane ahead = steepest_ahead(plane, 10.0, degrees);
        const double expected = 0.3 * std::cos(radians(degrees)) - 0.2 * std::sin(radians(degrees));
        CAPTURE(degrees);
        // Heights up to 3 mm in floats, over a pixel of 0.1 mm.
        CHECK(std::abs(ahead.at(30, 20) - expected) < 1e-5);
        CHECK(std::abs(ahead.at(12, 33) - expected) < 1e-5);
    }
}

TEST_CASE("horizon: a wall stands as high as its distance says; nothing is ahead at the border") {
    const Plane wall = step_at(120, 1.5F);
    const Plane ahead = steepest_ahead(wall, 10.0, 0.0);
    for (const int x : {20, 80, 110, 118})
        CHECK(ahead.at(x, 60) == doctest::Approx(1.5 / (0.1 * (120 - x))).epsilon(1e-5));
    CHECK(ahead.at(150, 60) == 0.0F);  // level land
    CHECK(ahead.at(200, 60) == nothing_ahead);
    // Across the wall at an angle the way is longer; the wall's own line is a pixel wide.
    const double angle = 35.0;
    const Plane oblique = steepest_ahead(wall, 10.0, angle);
    for (const int x : {100, 80}) {
        const double far_mm = 0.1 * (120 - x) / std::cos(radians(angle));
        CHECK(std::abs(oblique.at(x, 60) - 1.5 / far_mm) < 1.5 / far_mm * 1.0 / (120 - x));
    }
    // Looking away from it, all is level.
    CHECK(steepest_ahead(wall, 10.0, 180.0).at(60, 60) == 0.0F);
}

TEST_CASE("horizon: of two walls the one that stands higher counts, near or far") {
    Plane walls(201, 3);
    for (int y = 0; y < 3; ++y) {
        walls.at(60, y) = 1.0F;
        for (int x = 150; x < 201; ++x) walls.at(x, y) = 4.0F;
    }
    const Plane ahead = steepest_ahead(walls, 10.0, 0.0);
    CHECK(ahead.at(50, 1) == doctest::Approx(1.0 / 1.0));   // the near one: 4 / 10 is less
    CHECK(ahead.at(20, 1) == doctest::Approx(4.0 / 13.0));  // the far one: 1 / 4 is less
}

TEST_CASE("shadow: it is as long as the wall's height over the tangent of the lamp's") {
    for (const double lamp_height : {15.0, 25.0, 40.0}) {
        for (const double lamp : {0.0, 30.0, 45.0, -60.0}) {
            CAPTURE(lamp_height);
            CAPTURE(lamp);
            const Plane lit = lit_share(step_at(140, 1.0F), 10.0, lamp, lamp_height);
            // Square to the wall the shadow is shorter by the cosine of the lamp's turn.
            const double long_mm = std::cos(radians(lamp)) / std::tan(radians(lamp_height));
            const int y = lamp < 0.0 ? 20 : 100;
            int end = 139;
            while (end > 0 && lit.at(end, y) < 0.5F) --end;
            // Between two pixels' middles, and a wall that is one pixel wide where it is crossed
            // between its columns.
            CHECK(std::abs(0.1 * (140 - end) - long_mm) <= 0.15);
            CHECK(lit.at(139, y) == 0.0F);
            // A lamp of 3 degrees more: from here on all its light.
            const double open_mm =
                std::cos(radians(lamp)) / std::tan(radians(lamp_height - 3.0)) + 0.15;
            CHECK(lit.at(139 - static_cast<int>(10.0 * open_mm), y) == 1.0F);
            CHECK(lit.at(170, y) == 1.0F);
        }
    }
}

TEST_CASE("shadow: none where the land is level, under any lamp") {
    for (const double lamp_height : {1.0, 25.0, 90.0}) {
        const Plane lit = lit_share(Plane(40, 30, 0.7F), 10.0, 77.0, lamp_height);
        for (const float share : lit.values) REQUIRE(share == 1.0F);
    }
}

TEST_CASE("closed sky: a slope closes nothing, the foot of a wall what the wall hides") {
    const Plane slope = closed_sky(slope_of(0.6, 0.3), 10.0);
    // Rounding of floats alone: heights to 4e-7 mm over 0.1 mm, squared.
    CHECK(slope.at(30, 20) < 1e-9F);
    // A wall that reaches far to both sides: in a direction at an angle a to it, what is ahead is
    // h cos(a) / d steep, and hides sin^2 of the angle of that.
    const double height = 1.5, distance = 1.0;
    const Plane closed = closed_sky(step_at(120, 1.5F), 10.0);
    double expected = 0.0;
    for (int i = 0; i < 16; ++i) {
        const double across = std::cos(radians((i + 0.5) * 22.5));
        if (across <= 0.0) continue;
        const double slope_ahead = height * across / distance;
        expected += slope_ahead * slope_ahead / (1.0 + slope_ahead * slope_ahead) / 16.0;
    }
    // The wall is a pixel wide where it is crossed at an angle: a tenth of the way at the most.
    CHECK(closed.at(110, 60) == doctest::Approx(expected).epsilon(0.1));
    CHECK(closed.at(160, 60) < 1e-6F);
}
