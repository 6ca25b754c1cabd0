// What cannot be made, against forms whose limits are known in closed form.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <numbers>

#include "relief/making_limits.hpp"

using namespace rakelight;

namespace {

constexpr double px_per_mm = 40.0;

/// @param height_at  mm, of a place in mm from the map's middle, +y down
Plane map_of(int width, int height, const std::function<double(double, double)>& height_at) {
    Plane map(width, height);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
            map.at(x, y) = static_cast<float>(height_at((x - 0.5 * (width - 1)) / px_per_mm,
                                                        (y - 0.5 * (height - 1)) / px_per_mm));
    return map;
}

MakingLimits limits_of(const MakingSettings& settings, const Plane& map, double least_mm = 0.01,
                       HeightBeyond beyond = {}) {
    return making_limits(settings, {map, Plane(map.width, map.height, 1.0F), px_per_mm, beyond},
                         least_mm);
}

Plane mirrored(const Plane& map) {
    Plane mirror = map;
    for (int y = 0; y < map.height; ++y)
        for (int x = 0; x < map.width; ++x) mirror.at(x, y) = map.at(map.width - 1 - x, y);
    return mirror;
}

/// A height of 1 within 0, by the share of the pixel that a distance says.
double edged(double inside_mm) {
    return std::clamp(0.5 + inside_mm * px_per_mm, 0.0, 1.0);
}

}  // namespace

TEST_CASE("making: a ridge that is too narrow counts with its height and its area") {
    const auto ridge = [](double width_mm) {
        return map_of(160, 120, [&](double x, double) {
            return 0.3 + (std::abs(x) <= 0.5 * width_mm ? 0.7 : 0.0);
        });
    };
    const MakingSettings settings{.ridge_mm = 0.4};
    const MakingLimits narrow = limits_of(settings, ridge(0.2));
    CHECK(narrow.ridges->worst == doctest::Approx(0.7));
    // At the picture's border nobody knows how the ridge goes on, as far as a disc reaches.
    CHECK(narrow.ridges->mm2 <= 0.2 * 3.0);
    CHECK(narrow.ridges->mm2 > 0.2 * (3.0 - 2 * 0.2));
    CHECK(narrow.ridges->share == doctest::Approx(narrow.ridges->mm2 / 12.0));
    CHECK(narrow.ridge_lost_mm.at(80, 60) == doctest::Approx(0.7));
    CHECK(narrow.ridge_lost_mm.at(70, 60) == 0.0F);
    CHECK(limits_of(settings, ridge(0.4)).ridges->mm2 == 0.0);
    CHECK(limits_of({.groove_mm = 0.4}, ridge(0.2)).grooves->mm2 == 0.0);
    // As grooves, the same upside down.
    Plane groove = ridge(0.2);
    for (float& v : groove.values) v = 1.0F - v;
    CHECK(limits_of({.groove_mm = 0.4}, groove).grooves->worst == doctest::Approx(0.7));
    CHECK(limits_of({.groove_mm = 0.2}, groove).grooves->mm2 == 0.0);
    // A ball in it rests on the edge whose pixels' middles are 0.1 from its own, and reaches as
    // much deeper than a flat tip as its under side rises there.
    const MakingSettings ball{.groove_mm = 0.4, .cutter = CutterTip::ball};
    const MakingLimits round = limits_of(ball, groove);
    const double deeper_mm = 0.2 - std::sqrt(0.2 * 0.2 - 0.1 * 0.1);
    CHECK(round.groove_filled_mm.at(80, 60) == doctest::Approx(0.7 - deeper_mm).epsilon(1e-4));
    CHECK_FALSE(round.ridges);
    CHECK_FALSE(round.walls);
}

TEST_CASE("making: what is lost counts above least_mm alone; that of a dome is r^2 / 2 R") {
    const double dome_mm = 5.0, disc_mm = 1.0;
    const Plane dome = map_of(201, 201, [&](double x, double y) {
        return std::sqrt(dome_mm * dome_mm - x * x - y * y) - 3.0;
    });
    const double exact_mm = dome_mm - std::sqrt(dome_mm * dome_mm - 0.25 * disc_mm * disc_mm);
    CHECK(exact_mm == doctest::Approx(0.125 / dome_mm).epsilon(0.01));
    const MakingLimits limits = limits_of({.ridge_mm = disc_mm}, dome);
    // Its outermost pixels lie up to a pixel beside the disc's edge, whose middle is a corner here.
    const double pixel_mm = 0.5 * disc_mm / dome_mm / px_per_mm;  // of height, at the edge
    CHECK(std::abs(limits.ridges->worst - exact_mm) < pixel_mm);
    // Less than 0.01 is lost beyond where x^2 / 2 R is so much higher.
    const double radius_mm = std::sqrt(0.25 * disc_mm * disc_mm - 2.0 * dome_mm * 0.01);
    CHECK(limits.ridges->mm2 ==
          doctest::Approx(std::numbers::pi * radius_mm * radius_mm).epsilon(0.15));
    CHECK(limits_of({.ridge_mm = disc_mm}, dome, exact_mm + pixel_mm).ridges->mm2 == 0.0);
}

TEST_CASE("making: round and slanted walls and their edges are no ridges or grooves") {
    const MakingSettings settings{.ridge_mm = 0.4, .groove_mm = 0.4};
    for (const double radius_mm : {0.8, 1.5, 3.1}) {
        CAPTURE(radius_mm);
        const Plane button = map_of(320, 320, [&](double x, double y) {
            return edged(radius_mm - std::hypot(x - 0.003, y + 0.007));
        });
        const MakingLimits limits = limits_of(settings, button, 0.01, 0.0F);
        CHECK(limits.ridges->mm2 == 0.0);
        CHECK(limits.grooves->mm2 == 0.0);
    }
    for (int turn = 0; turn < 20; ++turn) {
        const double angle = turn * std::numbers::pi / 20.0 + 0.02;
        CAPTURE(turn);
        const Plane bench = map_of(160, 160, [&](double x, double y) {
            return edged(x * std::cos(angle) + y * std::sin(angle));
        });
        const MakingLimits limits = limits_of(settings, bench);
        CHECK(limits.ridges->mm2 == 0.0);
        CHECK(limits.grooves->mm2 == 0.0);
    }
}

TEST_CASE("making: walls are steep from their angle on; the piece's edge is none") {
    for (const double wall_deg : {30.0, 60.0, 85.0}) {
        const double slope = std::tan(wall_deg * std::numbers::pi / 180.0);
        Plane wall =
            map_of(60, 50, [&](double x, double y) { return slope * (0.6 * x + 0.8 * y); });
        Plane piece(60, 50, 1.0F);
        for (int y = 0; y < 50; ++y) {  // and rubbish outside the piece
            for (int x : {0, 1, 2, 57, 58, 59}) {
                wall.at(x, y) = 1e6F;
                piece.at(x, y) = x == 2 ? 0.5F : 0.0F;
            }
        }
        const auto share = [&](double limit_deg) {
            return making_limits({.wall_deg = limit_deg}, {wall, piece, px_per_mm, {}}, 0.01)
                .walls.value();
        };
        CAPTURE(wall_deg);
        CHECK(share(wall_deg + 0.02).mm2 == 0.0);
        CHECK(share(wall_deg).mm2 == 0.0);
        CHECK(share(wall_deg - 0.02).mm2 == doctest::Approx(54 * 50 / 1600.0));
        CHECK(share(wall_deg - 0.02).share == doctest::Approx(54.0 / 54.5));
        CHECK(share(10.0).worst == doctest::Approx(wall_deg).epsilon(1e-4));
    }
    const Plane cliff = map_of(60, 50, [](double x, double) { return x > 0.0 ? 50.0 : 0.0; });
    CHECK(limits_of({.wall_deg = 90.0}, cliff).walls->mm2 == 0.0);
    CHECK(limits_of({.wall_deg = 80.0}, cliff).walls->mm2 == doctest::Approx(2 * 50 / 1600.0));
}

TEST_CASE("making: what is too tall") {
    const Plane ramp = map_of(160, 80, [](double x, double) { return 2.0 + x; });
    const LimitFigures tall = limits_of({.tallest_mm = 2.5}, ramp).tall.value();
    CHECK(tall.worst == doctest::Approx(1.5 - 0.5 / px_per_mm));
    CHECK(tall.mm2 == doctest::Approx(1.5 * 2.0));
    CHECK(limits_of({.tallest_mm = 4.0}, ramp).tall->mm2 == 0.0);
}

TEST_CASE("making: the mirrored map has the mirrored limits; nothing set finds nothing") {
    const Plane map = map_of(150, 140, [](double x, double y) {
        return std::sin(9.0 * x + 4.0 * std::sin(5.0 * y)) + std::cos(7.0 * x * y) + 0.3 * x;
    });
    const MakingSettings settings{.tallest_mm = 1.0,
                                  .ridge_mm = 0.3,
                                  .groove_mm = 0.25,
                                  .cutter = CutterTip::ball,
                                  .wall_deg = 70.0};
    const MakingLimits plain = limits_of(settings, map);
    const MakingLimits mirror = limits_of(settings, mirrored(map));
    CHECK(mirrored(mirror.ridge_lost_mm).values == plain.ridge_lost_mm.values);
    CHECK(mirrored(mirror.groove_filled_mm).values == plain.groove_filled_mm.values);
    CHECK(mirrored(mirror.too_steep).values == plain.too_steep.values);
    CHECK(mirrored(mirror.too_tall_mm).values == plain.too_tall_mm.values);
    for (const auto& figures : {plain.ridges, plain.grooves, plain.walls, plain.tall})
        CHECK(figures->mm2 > 0.1);
    const MakingLimits none = limits_of({}, map);
    CHECK(none.ridge_lost_mm.values.empty());
    CHECK_FALSE(none.tall);
}

TEST_CASE("making: a ramp lies step / sqrt(12) beside its steps in the mean") {
    // 2000 places over 20 steps, half a place off the middles: of the sawtooth's squares the
    // midpoint rule misses 1 / 100^2.
    const double step_mm = 0.05;
    Plane ramp(2000, 3);
    for (int y = 0; y < 3; ++y)
        for (int x = 0; x < 2000; ++x)
            ramp.at(x, y) = static_cast<float>((x + 0.5) * step_mm / 100.0);
    const MakingSettings settings{.step_mm = step_mm};
    const Steps steps = steps_of(settings, 0.0, 2.0).value();
    const StepFigures figures = step_figures(steps, ramp, Plane(2000, 3, 1.0F), px_per_mm);
    CHECK(figures.rms_mm == doctest::Approx(step_mm / std::sqrt(12.0)).epsilon(1e-4));
    CHECK(figures.largest_mm <= 0.5 * step_mm);
    CHECK(figures.largest_mm > 0.5 * step_mm * (1.0 - 1.1 / 100.0));
    CHECK(figures.used == 21);  // the first and the last by half
    CHECK(figures.mm2 == doctest::Approx(6000 / 1600.0));
    CHECK(step_figures(steps, ramp, Plane(2000, 3), px_per_mm).used == 0);
    CHECK(steps.beside_mm(0.06) == doctest::Approx(0.01));
    CHECK(steps.beside_mm(0.04) == doctest::Approx(-0.01));
}

TEST_CASE("making: steps over the whole height end at both ends; what counts by itself") {
    const Steps steps = steps_of({.steps = 256}, -0.5, 2.05).value();
    CHECK(steps.low_mm == -0.5);
    CHECK(steps.step_mm == doctest::Approx(0.01));  // 8 bits over 2.55 mm
    CHECK(steps.nearest(2.05) == 255);
    CHECK_FALSE(steps_of({}, 0.0, 2.0));
    CHECK(least_loss_mm({}, {}) == 0.01);
    CHECK(least_loss_mm({}, Steps{0.0, 0.05}) == 0.025);
    CHECK(least_loss_mm({.least_mm = 0.2}, Steps{0.0, 0.05}) == 0.2);
}
