// Openings and closings against their definitions by brute force, the laws of morphology, and what
// discs and balls do to planes, ridges, grooves and cylinders in closed form.

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <numbers>
#include <random>
#include <vector>

#include "relief/morphology.hpp"

using namespace rakelight;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

Plane random_map(int width, int height, unsigned seed) {
    std::mt19937 random(seed);
    Plane map(width, height);
    for (float& v : map.values) v = static_cast<float>(random() % 1000) / 500.0F - 1.0F;
    return map;
}

Plane map_of(int width, int height, const std::function<double(int, int)>& height_at) {
    Plane map(width, height);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) map.at(x, y) = static_cast<float>(height_at(x, y));
    return map;
}

Plane mirrored(const Plane& map) {
    return map_of(map.width, map.height,
                  [&](int x, int y) { return map.at(map.width - 1 - x, y); });
}

Plane negated(Plane map) {
    for (float& v : map.values) v = -v;
    return map;
}

bool below(const Plane& a, const Plane& b) {
    return std::equal(a.values.begin(), a.values.end(), b.values.begin(), std::less_equal<>());
}

struct Offset {
    int x, y;
};

/// The header's disc: pixels whose middle lies within half the diameter of the disc's own.
std::vector<Offset> disc_pixels(double disc_px) {
    const int size = std::max(1, static_cast<int>(std::lround(disc_px)));
    std::vector<Offset> pixels;
    for (int y = 0; y < size; ++y)
        for (int x = 0; x < size; ++x)
            if (size == 1 ||
                std::hypot(x - 0.5 * (size - 1), y - 0.5 * (size - 1)) <= 0.5 * disc_px)
                pixels.push_back({x, y});
    return pixels;
}

/// The highest level at which a disc that covers the pixel lies on ground of that level or more.
double opened_at(const Plane& map, int x, int y, const std::vector<Offset>& disc,
                 HeightBeyond beyond) {
    double highest = -infinity;
    for (const Offset& own : disc) {
        double level = infinity;
        for (const Offset& other : disc) {
            const int u = x - own.x + other.x, v = y - own.y + other.y;
            const bool inside = u >= 0 && v >= 0 && u < map.width && v < map.height;
            if (!inside && !beyond) continue;
            level = std::min(level, double{inside ? map.at(u, v) : *beyond});
        }
        highest = std::max(highest, level);
    }
    return highest;
}

struct BallCase {
    double ball_mm, px_per_mm;
    HeightBeyond beyond;
};

/// The lowest under side, at the pixel, of all balls that rest on the map.
double under_balls(const Plane& map, int x, int y, const BallCase& ball) {
    const double radius = 0.5 * ball.ball_mm;
    const int reach = static_cast<int>(radius * ball.px_per_mm);
    const auto rise = [&](int dx, int dy) {
        const double square =
            radius * radius - (dx * dx + dy * dy) / (ball.px_per_mm * ball.px_per_mm);
        return square < 0.0 ? infinity : radius - std::sqrt(square);
    };
    double lowest = infinity;
    for (int by = y - reach; by <= y + reach; ++by) {
        for (int bx = x - reach; bx <= x + reach; ++bx) {
            if (rise(x - bx, y - by) == infinity) continue;
            double rest = -infinity;
            for (int v = by - reach; v <= by + reach; ++v) {
                for (int u = bx - reach; u <= bx + reach; ++u) {
                    const bool inside = u >= 0 && v >= 0 && u < map.width && v < map.height;
                    if (!inside && !ball.beyond) continue;
                    rest = std::max(rest,
                                    (inside ? map.at(u, v) : *ball.beyond) - rise(u - bx, v - by));
                }
            }
            lowest = std::min(lowest, rest + rise(x - bx, y - by));
        }
    }
    return lowest;
}

constexpr std::array<double, 8> diameters_px{1.2, 2.0, 3.0, 4.6, 7.0, 8.0, 13.3, 26.0};

}  // namespace

TEST_CASE("morphology: opening and closing by a disc are what brute force says, to the bit") {
    for (const double disc_px : diameters_px) {
        for (const HeightBeyond beyond : {HeightBeyond(), HeightBeyond(0.0F)}) {
            for (const auto& [width, height] : {std::pair{23, 17}, {1, 9}, {30, 1}, {1, 1}}) {
                CAPTURE(disc_px);
                CAPTURE(width);
                const Plane map = random_map(width, height, 3);
                const std::vector<Offset> disc = disc_pixels(disc_px);
                const Plane fast = opened(map, disc_px, beyond);
                REQUIRE(fast.values.size() == map.values.size());
                bool same = true;
                for (int y = 0; y < height; ++y)
                    for (int x = 0; x < width; ++x)
                        same = same && fast.at(x, y) == opened_at(map, x, y, disc, beyond);
                CHECK(same);
                CHECK(negated(closed(negated(map), disc_px, beyond)).values == fast.values);
            }
        }
    }
}

TEST_CASE("morphology: closing by a ball is what brute force says") {
    const Plane map = random_map(21, 16, 4);
    for (const BallCase& ball : {BallCase{0.3, 10.0, {}},
                                 {0.5, 10.0, 0.0F},
                                 {1.1, 10.0, {}},
                                 {6.0, 2.0, {}},
                                 {6.0, 2.0, 0.0F},
                                 {0.1, 10.0, {}}}) {
        CAPTURE(ball.ball_mm);
        const Plane fast = closed_by_ball(map, ball.ball_mm, ball.px_per_mm, ball.beyond);
        double worst = 0.0;
        for (int y = 0; y < map.height; ++y)
            for (int x = 0; x < map.width; ++x)
                worst = std::max(worst, std::abs(fast.at(x, y) - under_balls(map, x, y, ball)));
        CHECK(worst < 4e-6);  // heights up to 4, one rise taken off and one added, in floats
    }
}

TEST_CASE("morphology: an opening lies below, a closing above, and again changes nothing") {
    const Plane map = random_map(40, 31, 5);
    Plane higher = map;
    for (std::size_t i = 0; i < higher.values.size(); i += 3) higher.values[i] += 0.4F;
    for (const double disc_px : diameters_px) {
        CAPTURE(disc_px);
        const Plane open = opened(map, disc_px, {}), close = closed(map, disc_px, {});
        CHECK(below(open, map));
        CHECK(below(map, close));
        CHECK(opened(open, disc_px, {}).values == open.values);
        CHECK(closed(close, disc_px, {}).values == close.values);
        CHECK(below(open, opened(higher, disc_px, {})));
        CHECK((open.values != map.values) == (disc_px >= 1.5));  // the laws could have failed
        const Plane ball = closed_by_ball(map, disc_px / 10.0, 10.0, {});
        CHECK(below(map, ball));
        const Plane again = closed_by_ball(ball, disc_px / 10.0, 10.0, {});
        for (std::size_t i = 0; i < ball.values.size(); ++i)
            CHECK(std::abs(again.values[i] - ball.values[i]) < 2e-6F);
    }
}

TEST_CASE("morphology: the mirrored map has the mirrored result, and twice the same bytes") {
    const Plane map = random_map(33, 26, 6);
    for (const double disc_px : diameters_px) {
        CHECK(mirrored(opened(mirrored(map), disc_px, {})).values ==
              opened(map, disc_px, {}).values);
        CHECK(mirrored(closed_by_ball(mirrored(map), disc_px / 10.0, 10.0, {})).values ==
              closed_by_ball(map, disc_px / 10.0, 10.0, {}).values);
    }
    CHECK(opened(map, 9.0, {}).values == opened(map, 9.0, {}).values);
}

TEST_CASE("morphology: planes of any slope stay, at the border too") {
    for (int turn = 0; turn < 16; ++turn) {
        for (const double slope : {0.0, 0.01, 0.3, 4.0}) {
            const double angle = turn * std::numbers::pi / 8.0 + 0.1;
            const Plane plane = map_of(50, 40, [&](int x, int y) {
                return slope * (x * std::cos(angle) + y * std::sin(angle));
            });
            // Heights up to 256 are floats to 1.6e-5; a ball's rise is taken off and added.
            for (const double disc_px : {5.0, 12.0, 31.5}) {
                const Plane open = opened(plane, disc_px, {}), close = closed(plane, disc_px, {});
                const Plane ball = closed_by_ball(plane, disc_px, 1.0, {});
                double worst = 0.0;
                for (std::size_t i = 0; i < plane.values.size(); ++i)
                    for (const Plane* made : {&open, &close, &ball})
                        worst =
                            std::max<double>(worst, std::abs(made->values[i] - plane.values[i]));
                CHECK(worst < 5e-5);
            }
        }
    }
}

TEST_CASE("morphology: a ridge is kept when it is as wide as the disc, or lost wholly") {
    for (const double disc_px : {6.0, 7.0, 12.4, 16.0, 25.0}) {
        for (int turn = 0; turn < 12; ++turn) {
            const double angle = turn * std::numbers::pi / 12.0;
            const auto off_line = [&](int x, int y) {
                return (x - 40.2) * std::cos(angle) + (y - 39.7) * std::sin(angle);
            };
            const auto ridge = [&](double width_px) {
                return map_of(81, 81, [&](int x, int y) {
                    return std::abs(off_line(x, y)) <= 0.5 * width_px ? 1.0 : 0.0;
                });
            };
            // How wide the disc's pixels lie across the ridge, from middle to middle. It is less
            // than the diameter, and by no more than a pixel and a half.
            double low = infinity, high = -infinity;
            for (const Offset& o : disc_pixels(disc_px)) {
                const double across = o.x * std::cos(angle) + o.y * std::sin(angle);
                low = std::min(low, across);
                high = std::max(high, across);
            }
            CAPTURE(disc_px);
            CAPTURE(turn);
            CHECK(high - low <= disc_px + 1e-9);
            CHECK(high - low > disc_px - 1.5);
            const Plane lost = opened(ridge(high - low - 0.01), disc_px, 0.0F);
            CHECK(*std::max_element(lost.values.begin(), lost.values.end()) == 0.0F);
            // Somewhere within a pixel of the best place a disc has its middle.
            const Plane wide = ridge(disc_px + 1.0), kept = opened(wide, disc_px, {});
            int inner = 0, missing = 0;
            for (int y = 0; y < 81; ++y) {
                for (int x = 0; x < 81; ++x) {
                    if (std::abs(off_line(x, y)) > 0.5 * disc_px - 1.5) continue;
                    ++inner;
                    missing += kept.at(x, y) != 1.0F;
                }
            }
            CHECK(inner > 100);
            CHECK(missing == 0);
        }
    }
}

TEST_CASE("morphology: a level ridge keeps its columns from the disc's width on") {
    for (const double disc_px : {5.0, 5.4, 6.0, 8.6}) {
        for (int width = 1; width < 14; ++width) {
            const Plane ridge =
                map_of(40, 30, [&](int x, int) { return x >= 12 && x < 12 + width ? 1.0 : 0.0; });
            const Plane made = opened(ridge, disc_px, {});
            CHECK((made.values == ridge.values) == (width >= std::lround(disc_px)));
            const Plane filled = closed(negated(ridge), disc_px, {});
            CHECK(filled.values == negated(made).values);
        }
    }
}

TEST_CASE("morphology: a ball stays above the bottom of a V-groove by r (1 / sin a - 1)") {
    const double px_mm = 0.01;
    for (const double half_deg : {25.0, 45.0, 60.0}) {
        for (const double radius_mm : {0.2, 0.33}) {
            const double half = half_deg * std::numbers::pi / 180.0;
            const Plane groove = map_of(
                161, 67, [&](int x, int) { return std::abs(x - 80) * px_mm / std::tan(half); });
            const Plane made = closed_by_ball(groove, 2.0 * radius_mm, 1.0 / px_mm, {});
            // Nothing is known beyond the first and last row: a ball's radius away.
            const double exact_mm = radius_mm * (1.0 / std::sin(half) - 1.0);
            // It touches up to half a pixel beside the true place, where its under side bends with
            // 1 / (r sin^3 a): it can only lie lower, by half the square times that.
            const double lower_mm =
                px_mm * px_mm / (8.0 * radius_mm * std::pow(std::sin(half), 3.0));
            CAPTURE(half_deg);
            CHECK(made.at(80, 33) < exact_mm + 1e-5);
            CHECK(made.at(80, 33) > exact_mm - lower_mm - 1e-5);
            CHECK(exact_mm > 5.0 * lower_mm);
        }
    }
}

TEST_CASE("morphology: a groove rounder than the ball is left as it is") {
    const double px_mm = 0.02, groove_mm = 2.0;
    const Plane groove = map_of(161, 12, [&](int x, int) {
        const double across = (x - 80) * px_mm;
        return groove_mm - std::sqrt(groove_mm * groove_mm - across * across);
    });
    const auto filled_mm = [&](double radius_mm) {
        const Plane made = closed_by_ball(groove, 2.0 * radius_mm, 1.0 / px_mm, {});
        double most = 0.0;
        for (int x = 30; x <= 130; ++x)
            most = std::max<double>(most, made.at(x, 6) - groove.at(x, 6));
        return most;
    };
    for (const double radius_mm : {0.3, 0.8, 1.5}) {
        // Where it touches lies between pixels: half the square of half a pixel times how ball and
        // the curve of its places bend there, each over the cube of the cosine, at most 30 degrees.
        const double bend = (1.0 / radius_mm + 1.0 / (groove_mm - radius_mm)) / std::pow(0.866, 3);
        CHECK(filled_mm(radius_mm) < px_mm * px_mm / 8.0 * bend + 2e-6);
    }
    CHECK(filled_mm(2.4) > 0.05);
}
