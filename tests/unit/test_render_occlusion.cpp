// Occlusion on the processor against closed forms. The open share at a point is one less the
// radiation configuration factor from an element there to all that hides the sky; the formulas are
// those of Howell's "A Catalog of Radiation Heat Transfer Configuration Factors", written down from
// memory; the rectangle's was checked by numerical integration.

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "render/arc_tangent.hpp"
#include "render/occlusion_processor.hpp"
#include "test_render_maps.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

// Half of the last code's width: what a 16-bit pass still writes as fully open.
constexpr double open_code = 1.0 - 0.5 / 65535.0;

// The walk's taps lie 8 % apart, a pixel near by: a lip is caught at most that much beyond where it
// is, and the centre of its pixel is half a pixel more.
double lip_error(double distance_px) {
    return std::max(0.08, 1.0 / distance_px) + 0.5 / distance_px;
}

std::vector<float> open_share(const Maps& maps, double reach_mm, double nearest_scale = 1.0) {
    const auto walk = make_occlusion_walk(reach_mm * maps.grid.px_per_mm * nearest_scale);
    OcclusionOnProcessor occlusion(walk, reach_mm, maps.camera, maps.grid, maps.area);
    occlusion.add_rows(maps.surface());
    return occlusion.open(maps.surface());
}

double least_of_surface(const Maps& maps, const std::vector<float>& open) {
    double least = 2.0;
    for (std::size_t i = 0; i < open.size(); ++i) {
        if (maps.lift[i] > 0.0F) least = std::min(least, static_cast<double>(open[i]));
    }
    return least;
}

}  // namespace

TEST_CASE("the arc tangent is within 4e-7 of the library's all around") {
    double worst = 0.0;
    for (int i = 0; i <= 100000; ++i) {
        const double angle = std::numbers::pi * i / 100000.0;
        const auto x = static_cast<float>(3.0 * std::cos(angle));
        const auto y = static_cast<float>(std::max(3.0 * std::sin(angle), 0.0));
        worst = std::max(worst, std::fabs(angle_of(x, y) - std::atan2(double{y}, double{x})));
    }
    CHECK(worst < 4e-7);
    CHECK(angle_of(0.0F, 0.0F) == doctest::Approx(std::numbers::pi / 2));  // no division by 0
}

TEST_CASE("a walk's weights integrate, its taps lie on their slices and within the reach") {
    for (const double reach : {0.6, 1.0, 3.7, 136.0, 2500.0}) {
        CAPTURE(reach);
        const auto walk = make_occlusion_walk(reach);
        CHECK(walk.taps.size() <= max_walk_taps);
        double sums[4] = {0, 0, 0, 0};
        std::size_t next = 0;
        for (const auto& slice : walk.slices) {
            const glm::dvec2 along = glm::normalize(glm::dvec2(slice.step_px));
            const double angle = std::atan2(along.y, along.x);
            for (int k = 0; k < 4; ++k) sums[k] += slice.weight * std::cos(4.0 * k * angle);
            CHECK(slice.tap_count > 0);
            double last = 0.0;
            const double step = 1.0 / std::max(std::fabs(along.x), std::fabs(along.y));
            for (int k = 0; k < slice.tap_count; ++k) {
                const SliceTap& tap = walk.taps[next++];
                const glm::dvec2 at =
                    glm::dvec2(tap.first_px) + tap.share * glm::dvec2(slice.across_px);
                CHECK(glm::length(at - tap.distance_px * along) < 1e-9);
                CHECK(tap.distance_px > last);
                CHECK((tap.distance_px < reach || k == 0));
                last = tap.distance_px;
                for (const glm::ivec2 px : {tap.first_px, tap.first_px + slice.across_px}) {
                    CHECK(std::max(std::abs(px.x), std::abs(px.y)) <= walk.reach_px);
                }
            }
            if (reach > step) CHECK(last >= reach - step - 1e-9);
        }
        CHECK(next == walk.taps.size());
        CHECK(sums[0] == doctest::Approx(1.0));
        for (int k = 1; k < 4; ++k) CHECK(std::fabs(sums[k]) < 1e-12);
    }
}

TEST_CASE("a plane hides nothing of its own sky, however it is tilted") {
    // Slopes of single-precision lifts are off by at most 2 ulp(32 mm) * 40 px/mm = 3e-4, and what
    // a horizon of that height over the tangent plane hides is its square: below 1e-7.
    for (const double tilt_deg : {0.0, 10.0, 40.0, 63.0, 80.0}) {
        for (const double turn_deg : {0.0, 13.0, 45.0, 101.0}) {
            for (const double eye_mm : {0.0, 80.0}) {
                CAPTURE(tilt_deg);
                CAPTURE(turn_deg);
                CAPTURE(eye_mm);
                const double tilt = tilt_deg * std::numbers::pi / 180.0;
                const double turn = turn_deg * std::numbers::pi / 180.0;
                const glm::dvec3 normal(std::sin(tilt) * std::cos(turn),
                                        std::sin(tilt) * std::sin(turn), std::cos(tilt));
                // z where normal . (b (1 - z / eye), z) = 0
                const auto maps = draw({81, 71, 40.0, -17.0, eye_mm}, [&](glm::dvec2 b) {
                    const double across = normal.x * b.x + normal.y * b.y;
                    const double lean = eye_mm > 0.0 ? across / eye_mm : 0.0;
                    return Spot{-across / (normal.z - lean), normal};
                });
                CHECK(least_of_surface(maps, open_share(maps, 0.7)) > 1.0 - 1e-6);
            }
        }
    }
}

TEST_CASE("a sphere hides nothing of its own sky") {
    for (const double eye_mm : {0.0, 30.0}) {
        CAPTURE(eye_mm);
        const double edge = eye_mm > 0.0 ? 5.0 / std::sqrt(1.0 - 25.0 / (eye_mm * eye_mm)) : 5.0;
        const auto maps = draw({261, 261, 25.0, -1.0, eye_mm}, [&](glm::dvec2 b) {
            if (glm::length(b) > 0.999 * edge) return std::optional<Spot>();
            glm::dvec3 p(b, std::sqrt(std::max(25.0 - glm::dot(b, b), 0.0)));
            if (eye_mm > 0.0) {  // the near root of |eye + t (b - eye)| = 5
                const glm::dvec3 eye(0, 0, eye_mm);
                const glm::dvec3 d = glm::dvec3(b, 0.0) - eye;
                const double half = glm::dot(eye, d);
                const double root =
                    std::sqrt(half * half - glm::dot(d, d) * (eye_mm * eye_mm - 25.0));
                p = eye + (-half - root) / glm::dot(d, d) * d;
            }
            return std::optional<Spot>({p.z, glm::normalize(p)});
        });
        const auto open = open_share(maps, 2.0, 1.25);
        CHECK(least_of_surface(maps, open) > open_code);
    }
}

TEST_CASE("a floor before a long wall: (1 + sin of the angle from the normal to its lip) / 2") {
    // In two dimensions an element sees (sin b2 - sin b1) / 2 between angles b from its normal
    // (Nusselt's unit circle). What the wall has beyond the reach would add below (h / reach)^2.
    const double wall_mm = 1.0;
    for (const double turn_deg : {0.0, 30.0, 45.0}) {
        const double turn = turn_deg * std::numbers::pi / 180.0;
        const glm::dvec2 toward(std::cos(turn), std::sin(turn));
        for (const int distance_px : {6, 20, 55}) {
            CAPTURE(turn_deg);
            CAPTURE(distance_px);
            const double d = distance_px / 20.0;
            const auto maps = draw({601, 601, 20.0, -1.0}, [&](glm::dvec2 b) {
                return Spot{glm::dot(b, toward) > d ? wall_mm : 0.0};
            });
            const double open = open_share(maps, 14.0)[maps.at(0, 0)];
            const double size = std::hypot(d, wall_mm);
            const double slack = 0.5 * wall_mm * wall_mm * d / (size * size * size);
            CHECK(std::fabs(open - 0.5 * (1.0 + d / size)) <
                  slack * lip_error(distance_px) + 0.006);
            CHECK(open < 0.99);
        }
    }
}

TEST_CASE("the floor's centre in a round well: r^2 / (r^2 + h^2), in both projections") {
    // An element and a disc on its normal (Howell B-12).
    for (const double eye_mm : {0.0, 40.0}) {
        for (const double depth : {0.5, 1.5, 3.0}) {
            CAPTURE(eye_mm);
            CAPTURE(depth);
            const double r = 1.5;
            const double deep = eye_mm > 0.0 ? r / (1.0 + depth / eye_mm) : r;
            const auto maps = draw({181, 181, 40.0, -depth - 1.0, eye_mm}, [&](glm::dvec2 b) {
                const double from_axis = glm::length(b);
                if (from_axis > r) return Spot{0.0};
                if (from_axis <= deep) return Spot{-depth};
                return Spot{eye_mm * (1.0 - r / from_axis),
                            {-b.x / from_axis, -b.y / from_axis, 0}};
            });
            const double open = open_share(maps, 2.0 * std::hypot(r, depth))[maps.at(0, 0)];
            const double exact = r * r / (r * r + depth * depth);
            const double slack = 2.0 * exact * (1.0 - exact);  // d share / d ln r
            CHECK(std::fabs(open - exact) < slack * lip_error(r * 40.0));
        }
    }
}

TEST_CASE("a well deeper than the reach: its walls end where they leave the reach, (r / R)^2") {
    const double r = 1.5;
    const auto maps = draw({181, 181, 40.0, -6.0},
                           [&](glm::dvec2 b) { return Spot{glm::length(b) > r ? 0.0 : -5.0}; });
    for (const double reach : {1.7, 2.0, 2.2}) {
        CAPTURE(reach);
        const double exact = r * r / (reach * reach);
        CHECK(std::fabs(open_share(maps, reach)[maps.at(0, 0)] - exact) <
              2.0 * exact * lip_error(r * 40.0));
    }
}

TEST_CASE("the floor's centre in a rectangular well") {
    // An element and a parallel rectangle, its normal through a corner, four times.
    const auto corner = [](double a, double b) {
        const double u = std::sqrt(1.0 + a * a);
        const double v = std::sqrt(1.0 + b * b);
        return (a / u * std::atan(b / u) + b / v * std::atan(a / v)) / (2.0 * std::numbers::pi);
    };
    for (const double depth : {0.6, 1.2, 2.4}) {
        CAPTURE(depth);
        const glm::dvec2 half(1.0, 1.6);
        const auto maps = draw({161, 161, 40.0, -4.0}, [&](glm::dvec2 b) {
            return Spot{std::fabs(b.x) < half.x && std::fabs(b.y) < half.y ? -depth : 0.0};
        });
        const double open = open_share(maps, 6.0)[maps.at(0, 0)];
        const double exact = 4.0 * corner(half.x / depth, half.y / depth);
        // As for the disc; the corners' azimuths fall between slices: twelve of them, 0.01.
        CHECK(std::fabs(open - exact) < 2.0 * exact * (1.0 - exact) * lip_error(40.0) + 0.01);
    }
}

TEST_CASE("a wall of a V-groove at any depth, in both projections") {
    // (1 - sin b) / 2, b from the normal to the other lip; its own wall ends the other side. The
    // reach is four widths, so that little of the endless groove is beyond it.
    for (const double opening_deg : {50.0, 90.0, 130.0}) {
        for (const double eye_mm : {0.0, 60.0}) {
            const double half = 0.5 * opening_deg * std::numbers::pi / 180.0;
            const double steep = 1.0 / std::tan(half);
            const double width = 1.5;  // from the middle to a lip
            const double px_per_mm = 12.5;
            const glm::dvec2 toward(std::cos(0.4), std::sin(0.4));
            const auto height = [&](double x, double y) {
                return (std::min(std::fabs(x * toward.x + y * toward.y), width) - width) * steep;
            };
            const auto maps = draw({321, 321, px_per_mm, -4.0, eye_mm}, [&](glm::dvec2 b) {
                const glm::dvec3 p = meet(b, eye_mm, -3.5, 0.5, height);
                const double u = p.x * toward.x + p.y * toward.y;
                const double slope = std::fabs(u) > width ? 0.0 : std::copysign(steep, u);
                return Spot{p.z, glm::normalize(glm::dvec3(-slope * toward, 1.0))};
            });
            const auto open = open_share(maps, 12.0, 1.02);
            for (const double share : {0.15, 0.5, 0.85}) {
                CAPTURE(opening_deg);
                CAPTURE(eye_mm);
                CAPTURE(share);
                const double z = (share - 1.0) * width * steep;
                const double shrink = eye_mm > 0.0 ? 1.0 - z / eye_mm : 1.0;
                const glm::ivec2 px(glm::round(share * width / shrink * px_per_mm * toward));
                const double u = glm::dot(glm::dvec2(px), toward) / px_per_mm * shrink;
                const glm::dvec2 to_lip =
                    glm::normalize(glm::dvec2(-width - u, (width - std::fabs(u)) * steep));
                const double exact =
                    0.5 * (1.0 - glm::dot(to_lip, {std::sin(half), std::cos(half)}));
                // The other lip is seen at most lip_error too low, relative to its distance.
                const double slack = 0.5 * lip_error((width + u) * px_per_mm) * std::fabs(to_lip.y);
                CHECK(std::fabs(open[maps.at(px.x, -px.y)] - exact) < slack + 0.006);
            }
        }
    }
}

TEST_CASE("a wall farther than the reach changes nothing at all") {
    // The floor falls toward the wall, so that even a horizontal horizon there would hide some sky.
    const auto before_wall = [](double wall_mm) {
        return draw({201, 101, 20.0, -4.0}, [&](glm::dvec2 b) {
            if (b.x > 2.0) return Spot{wall_mm};
            return Spot{-0.5 * b.x, glm::normalize(glm::dvec3(0.5, 0.0, 1.0))};
        });
    };
    const auto without = before_wall(-1.0);
    const auto with = before_wall(3.0);
    const auto open_without = open_share(without, 1.5);
    const auto open_with = open_share(with, 1.5);
    bool bites = false;
    for (int x = -99; x < 100; ++x) {
        const std::size_t at = without.at(x, 0);
        if (x + 30 < 41) CHECK(open_without[at] == open_with[at]);  // 41: the wall's first pixel
        bites = bites || open_with[at] < open_without[at] - 0.2F;
    }
    CHECK(bites);
}

TEST_CASE("what lies below the reach hides nothing, and neither does the background") {
    // A cone of 80 degrees on a plain 5 mm lower: its side sees the plain only through taps that
    // lie beyond the reach of 1 mm, and its foot is cut off by the picture.
    const double steep = std::tan(80.0 * std::numbers::pi / 180.0);
    const auto maps = draw({161, 161, 40.0, -6.0}, [&](glm::dvec2 b) {
        const double from_axis = std::max(glm::length(b), 1e-9);
        const double z = -steep * from_axis;
        if (z < -5.0) return std::optional<Spot>({-5.0, {0, 0, 1}});
        return std::optional<Spot>({z, glm::normalize(glm::dvec3(steep * b / from_axis, 1.0))});
    });
    const auto open = open_share(maps, 1.0);
    CHECK(open[maps.at(4, 0)] > open_code);
    CHECK(open[maps.at(0, 18)] > open_code);
    CHECK(open[maps.at(38, 0)] < 0.8);  // the plain right before it does see it
    CHECK(open[maps.at(79, 79)] > open_code);
}

TEST_CASE("turning and mirroring the surface turns and mirrors the picture") {
    const auto height = [](double x, double y) {
        return 0.8 * std::sin(2.0 * x + 0.3) * std::cos(3.0 * y) +
               0.3 * std::sin(7.0 * x + 2.0 * y);
    };
    const auto drawn = [&](const std::function<glm::dvec2(glm::dvec2)>& from) {
        return draw({141, 141, 40.0, -2.0}, [&](glm::dvec2 b) {
            const glm::dvec2 p = from(b);
            return Spot{height(p.x, p.y)};
        });
    };
    const auto straight = drawn([](glm::dvec2 b) { return b; });
    const auto turned = drawn([](glm::dvec2 b) { return glm::dvec2(b.y, -b.x); });
    const auto mirrored = drawn([](glm::dvec2 b) { return glm::dvec2(-b.x, b.y); });
    const auto a = open_share(straight, 1.2);
    const auto b = open_share(turned, 1.2);
    const auto c = open_share(mirrored, 1.2);
    double worst = 0.0;
    double lowest = 1.0;
    for (int y = -70; y <= 70; ++y) {
        for (int x = -70; x <= 70; ++x) {
            const double value = a[straight.at(x, y)];
            worst = std::max(worst, std::fabs(value - b[straight.at(y, -x)]));
            worst = std::max(worst, std::fabs(value - c[straight.at(-x, y)]));
            lowest = std::min(lowest, value);
        }
    }
    CHECK(worst < 2e-6);  // the order of sums in single precision
    CHECK(lowest < 0.7);
}

TEST_CASE("from far away, perspective is parallel projection") {
    // At 1e5 mm the picture of a surface 2 mm high shifts by 2e-5 of its size: nothing but rounding
    // of heights there, some 1e-5 mm over pixels of 0.025 mm, can be seen.
    const auto height = [](double x, double y) {
        return 0.8 * std::sin(2.0 * x) * std::cos(3.0 * y) + 0.2 * std::sin(7.0 * x + 2.0 * y);
    };
    const auto surface = [&](glm::dvec2 b) { return Spot{height(b.x, b.y)}; };
    const auto near = draw({141, 101, 40.0, -2.0}, surface);
    const auto far = draw({141, 101, 40.0, -2.0, 1e5}, surface);
    const auto a = open_share(near, 1.2);
    const auto b = open_share(far, 1.2);
    double worst = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i)
        worst = std::max(worst, std::fabs(double{a[i]} - b[i]));
    CHECK(worst < 2e-3);
    CHECK(least_of_surface(near, a) < 0.7);
}
