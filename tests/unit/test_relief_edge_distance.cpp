// Depths inside a silhouette against brute force and the distances of straight and round outlines.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <random>
#include <utility>

#include "relief/edge_distance.hpp"

using namespace rakelight;

namespace {

constexpr float far_px = 1000.0F;

/// From a pixel's middle to that of the nearest hole, less the half pixel that the outline lies
/// before it.
double by_brute_force(const Plane& mask, int x, int y) {
    double nearest = std::numeric_limits<double>::infinity();
    for (int v = 0; v < mask.height; ++v)
        for (int u = 0; u < mask.width; ++u)
            if (mask.at(u, v) == 0.0F) nearest = std::min(nearest, std::hypot(u - x, v - y));
    return nearest - 0.5;
}

/// Covered but for single pixels that lie alone, two off each other and off the border, so that
/// their slopes cancel.
Plane with_holes(int width, int height, int wanted, std::mt19937& random) {
    Plane mask(width, height, 1.0F);
    for (; wanted > 0; --wanted) {
        const int x = 2 + static_cast<int>(random() % static_cast<unsigned>(width - 4));
        const int y = 2 + static_cast<int>(random() % static_cast<unsigned>(height - 4));
        bool alone = true;
        for (int v = y - 2; v <= y + 2; ++v)
            for (int u = x - 2; u <= x + 2; ++u) alone = alone && mask.at(u, v) == 1.0F;
        if (alone) mask.at(x, y) = 0.0F;
    }
    return mask;
}

/// Share of each pixel where inside_px(point) > 0, by 32 x 32 samples: within 1/32 of the area.
template <typename Inside>
Plane covered(int width, int height, const Inside& inside_px) {
    constexpr int samples = 32;
    Plane coverage(width, height);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            int hit = 0;
            for (int j = 0; j < samples; ++j)
                for (int i = 0; i < samples; ++i)
                    hit += inside_px(x + (i + 0.5) / samples, y + (j + 0.5) / samples) > 0.0;
            coverage.at(x, y) = static_cast<float>(hit) / (samples * samples);
        }
    }
    return coverage;
}

/// The largest error where pixels are covered, `border` pixels off the picture's border, and as far
/// in as `deepest_px`.
template <typename Inside>
double worst_error(const Plane& coverage, const Inside& inside_px, int border, double deepest_px) {
    const Plane found = edge_distance_px(coverage, far_px);
    double worst = 0.0;
    int compared = 0;
    for (int y = border; y < coverage.height - border; ++y) {
        for (int x = border; x < coverage.width - border; ++x) {
            const double true_px = inside_px(x + 0.5, y + 0.5);
            if (coverage.at(x, y) <= 0.0F || true_px > deepest_px) continue;
            worst = std::max(worst, std::abs(found.at(x, y) - true_px));
            ++compared;
        }
    }
    CHECK(compared > 50);
    return worst;
}

}  // namespace

TEST_CASE("edge distance: the nearest of single holes is found, as by brute force") {
    std::mt19937 random(5);
    for (const auto& [width, height] : {std::pair{61, 47}, {90, 7}, {7, 90}}) {
        CAPTURE(width);
        const Plane mask = with_holes(width, height, width * height / 100 + 1, random);
        const Plane found = edge_distance_px(mask, far_px);
        for (int y = 0; y < height; ++y) {
            for (int x = 0; x < width; ++x) {
                if (mask.at(x, y) == 0.0F) continue;
                // A distance changes by no more than the way. The mean of nine, twice, takes in
                // what lies 1.07 px away in the mean, twice.
                CHECK(std::abs(found.at(x, y) - by_brute_force(mask, x, y)) < 2 * 1.08);
            }
        }
    }
}

TEST_CASE("edge distance: the picture's border is no outline, and far is as far as was asked") {
    for (const float v : edge_distance_px(Plane(9, 7, 1.0F), 5.0F).values) CHECK(v == 5.0F);
    // Sums of samples can end a hair below 1.
    for (const float v : edge_distance_px(Plane(9, 7, 0.99995F), 5.0F).values) CHECK(v == 5.0F);
    Plane half(40, 9, 1.0F);
    for (int y = 0; y < 9; ++y) half.at(0, y) = 0.0F;
    const Plane found = edge_distance_px(half, 5.0F);
    for (int x = 3; x < 40; ++x) {
        if (x > 3 && x < 8) continue;  // the mean of nine, twice, rounds off where it is cut off
        CHECK(found.at(x, 4) == doctest::Approx(std::min(x - 0.5, 5.0)).epsilon(1e-5));
    }
}

TEST_CASE("edge distance: within a quarter of a pixel of straight outlines at every angle") {
    for (int turn = 0; turn < 24; ++turn) {
        const double angle = turn * std::numbers::pi / 12.0 + 0.03;
        CAPTURE(turn);
        const auto inside_px = [&](double x, double y) {
            return 0.37 + (x - 30.0) * std::cos(angle) + (y - 30.0) * std::sin(angle);
        };
        // Near the border the nearest point of the line lies outside the picture.
        CHECK(worst_error(covered(60, 60, inside_px), inside_px, 20, 12.0) < 0.25);
    }
}

TEST_CASE("edge distance: within a quarter of a pixel of a disc's outline") {
    for (const double radius : {6.3, 14.8, 22.0}) {
        CAPTURE(radius);
        const auto inside_px = [&](double x, double y) {
            return radius - std::hypot(x - 30.3, y - 29.6);
        };
        CHECK(worst_error(covered(60, 60, inside_px), inside_px, 0, radius - 4.0) < 0.25);
    }
}
