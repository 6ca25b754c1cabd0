// The stain that stays: none on the level, more in a groove than on a ridge, more the deeper.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "struck/patina.hpp"

using namespace rakelight;

namespace {

constexpr double px_per_mm = 20.0, recess_mm = 0.8;

Plane stained(const Plane& heights) {
    const Plane share(heights.width, heights.height, 1.0F);
    return stain_left({heights, share, px_per_mm, recess_mm}, closed_sky(heights, px_per_mm));
}

/// A round groove (below 0: a ridge) along the middle column, 0.4 mm wide.
Plane groove(double depth_mm) {
    Plane heights(121, 61, 1.0F);
    for (int y = 0; y < heights.height; ++y) {
        for (int x = 0; x < heights.width; ++x) {
            const double t = (x - 60) / px_per_mm / 0.2;
            if (std::abs(t) < 1.0)
                heights.at(x, y) -= static_cast<float>(depth_mm * (1.0 - t * t) * (1.0 - t * t));
        }
    }
    return heights;
}

}  // namespace

TEST_CASE("patina: level land has none, whatever its height") {
    for (const float height : {0.0F, 2.0F}) {
        const Plane stain = stained(Plane(90, 70, height));
        CHECK(*std::max_element(stain.values.begin(), stain.values.end()) < 1e-6F);
    }
}

TEST_CASE("patina: a long slope has none in its midst") {
    Plane slope(161, 161);
    for (int y = 0; y < 161; ++y)
        for (int x = 0; x < 161; ++x) slope.at(x, y) = 0.02F * static_cast<float>(x);
    CHECK(stained(slope).at(80, 80) < 1e-4F);
}

TEST_CASE("patina: it stays in a groove and leaves a ridge; the deeper, the darker") {
    float before = 0.0F;
    for (const double depth_mm : {0.04, 0.07, 0.1, 0.2}) {
        CAPTURE(depth_mm);
        const float in_groove = stained(groove(depth_mm)).at(60, 30);
        CHECK(in_groove > before);
        CHECK(stained(groove(-depth_mm)).at(60, 30) < 1e-6F);
        before = in_groove;
    }
    CHECK(before > 0.8F);
}

TEST_CASE("patina: with a closed sky alone, the stain is the formula's") {
    const Plane level(40, 40), share(40, 40, 1.0F);
    const Plane stain = stain_left({level, share, px_per_mm, recess_mm}, Plane(40, 40, 0.12F));
    const double t = (0.12 - 0.05) / 0.4;
    CHECK(stain.at(20, 20) == doctest::Approx(t * t * (3.0 - 2.0 * t)).epsilon(1e-5));
}
