// Levels, curves and histograms against their definitions.

#include <doctest/doctest.h>

#include <cmath>

#include "relief/tone.hpp"

using namespace rakelight;

TEST_CASE("levels: black, white, gamma, and what is clipped") {
    Plane image(4, 1);
    image.values = {0.1F, 0.25F, 0.5F, 0.9F};
    Plane used(4, 1, 1.0F);
    SUBCASE("stretched; two are beyond the ends") {
        const Clipped clipped = apply_levels(image, {0.25, 0.75, 1.0}, used);
        CHECK(image.values == std::vector<float>{0.0F, 0.0F, 0.5F, 1.0F});
        CHECK(clipped.below == 1);
        CHECK(clipped.above == 1);
    }
    SUBCASE("what does not count is not counted") {
        used.values = {0.0F, 1.0F, 1.0F, 0.5F};
        const Clipped clipped = apply_levels(image, {0.25, 0.75, 1.0}, used);
        CHECK(clipped.below + clipped.above == 0);
    }
    SUBCASE("gamma 2 is the square root") {
        apply_levels(image, {0.0, 1.0, 2.0}, used);
        CHECK(image.values[1] == doctest::Approx(0.5));
        CHECK(image.values[2] == doctest::Approx(std::sqrt(0.5)));
    }
    SUBCASE("reversed") {
        apply_levels(image, {1.0, 0.0, 1.0}, used);
        CHECK(image.values[1] == 0.75F);
        CHECK(image.values[3] == doctest::Approx(0.1));
    }
}

TEST_CASE("curve: goes through its points, keeps between them, is level beyond them") {
    const ToneCurve curve({{0.0, 0.0}, {0.2, 0.5}, {0.25, 0.5}, {0.8, 0.55}, {1.0, 1.0}});
    CHECK(curve(0.0) == 0.0);
    CHECK(curve(0.2) == doctest::Approx(0.5));
    CHECK(curve(0.8) == doctest::Approx(0.55));
    CHECK(curve(1.0) == 1.0);
    CHECK(curve(-3.0) == 0.0);
    CHECK(curve(3.0) == 1.0);
    double before = 0.0;
    for (int i = 1; i <= 1000; ++i) {  // rising points: a rising curve, flat where they are level
        const double v = curve(i / 1000.0);
        CHECK(v >= before - 1e-12);
        before = v;
    }
    CHECK(curve(0.23) == doctest::Approx(0.5));
    SUBCASE("two points are a line") {
        const ToneCurve line({{0.25, 1.0}, {0.75, 0.0}});
        CHECK(line(0.5) == doctest::Approx(0.5));
        CHECK(line(0.375) == doctest::Approx(0.75));
    }
    SUBCASE("even points: the slope is the harmonic mean of both sides' (Fritsch and Butland)") {
        const ToneCurve bent({{0.0, 0.0}, {0.5, 0.25}, {1.0, 1.0}});  // slopes 0.5 and 1.5
        const double slope = (bent(0.5 + 1e-6) - bent(0.5 - 1e-6)) / 2e-6;
        CHECK(slope == doctest::Approx(2.0 * 0.5 * 1.5 / (0.5 + 1.5)).epsilon(1e-4));
    }
}

TEST_CASE("histogram: shares of a ramp lie where they must, to a bin") {
    Plane image(1000, 1);
    for (int x = 0; x < 1000; ++x)
        image.at(x, 0) = 0.25F + 0.5F * (static_cast<float>(x) + 0.5F) / 1000.0F;
    Plane used(1000, 1, 1.0F);
    const Histogram all(image, used);
    CHECK(all.count() == 1000);
    for (const double share : {0.005, 0.1, 0.5, 0.995})
        CHECK(std::abs(all.at_share(share) - (0.25 + 0.5 * share)) <=
              0.5 / 1000 + 1.0 / Histogram::bins);
    CHECK(all.used_range() == doctest::Approx(0.495).epsilon(0.002));
    for (int x = 0; x < 500; ++x) used.at(x, 0) = 0.0F;
    CHECK(Histogram(image, used).at_share(0.5) == doctest::Approx(0.625).epsilon(0.002));
    CHECK(Histogram(image, Plane(1000, 1)).at_share(0.5) == 0.0);
}
