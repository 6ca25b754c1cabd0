// Compressed heights of shapes whose result is known beforehand.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "relief/compress.hpp"

using namespace rakelight;

namespace {

constexpr double px_per_mm = 8.0;

struct Shape {
    Plane height_mm, coverage;
};

/// A disc of 14 mm radius on a picture of 32 x 30 mm.
Shape disc(const std::function<double(double x_mm, double y_mm)>& height_mm) {
    Shape shape{Plane(256, 240), Plane(256, 240)};
    for (int y = 0; y < 240; ++y) {
        for (int x = 0; x < 256; ++x) {
            const double x_mm = (x + 0.5) / px_per_mm - 16.0, y_mm = 15.0 - (y + 0.5) / px_per_mm;
            if (std::hypot(x_mm, y_mm) > 14.0) continue;
            shape.coverage.at(x, y) = 1.0F;
            shape.height_mm.at(x, y) = static_cast<float>(height_mm(x_mm, y_mm));
        }
    }
    return shape;
}

Plane compressed(const Shape& shape, const CompressSettings& settings) {
    return compressed_heights(shape.height_mm, shape.coverage, px_per_mm, settings);
}

float at_mm(const Plane& plane, double x_mm, double y_mm) {
    return plane.at(static_cast<int>((x_mm + 16.0) * px_per_mm),
                    static_cast<int>((15.0 - y_mm) * px_per_mm));
}

/// How much a and b differ at the most once both reach from 0 to 1.
double largest_difference(const Plane& a, const Shape& shape) {
    float low = 1e9F, high = -1e9F;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        if (shape.coverage.values[i] == 0.0F) continue;
        low = std::min(low, shape.height_mm.values[i]);
        high = std::max(high, shape.height_mm.values[i]);
    }
    double largest = 0.0;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        if (shape.coverage.values[i] == 0.0F) continue;
        const double wanted = (shape.height_mm.values[i] - low) / (high - low);
        largest = std::max(largest, std::abs(a.values[i] - wanted));
    }
    return largest;
}

/// Amplitude of the ripple along x that `shape` has, at a wavelength of 1 mm.
double ripple(const Plane& plane) {
    double largest = 0.0;
    for (double x = -3.0; x < 3.0; x += 0.5)
        largest = std::max(
            largest, std::abs(static_cast<double>(at_mm(plane, x, 0.0)) -
                              0.5 * (at_mm(plane, x - 0.5, 0.0) + at_mm(plane, x + 0.5, 0.0))));
    return largest;
}

}  // namespace

TEST_CASE("compress: what is level stays level, outside is 0") {
    const Shape level = disc([](double, double) { return 7.5; });
    for (const float v : compressed(level, {}).values) CHECK(v == 0.0F);
    Plane nothing(40, 30);
    CHECK(compressed_heights(nothing, nothing, px_per_mm, {}).values == nothing.values);
}

TEST_CASE("compress: a slope has one slope only, whatever is done to slopes") {
    const Shape slope = disc([](double x, double y) { return 0.7 * x - 0.2 * y; });
    for (const double squeeze : {0.0, 3.0, 30.0})
        CHECK(largest_difference(compressed(slope, {squeeze, 1.0, 0.4, 0.2}), slope) < 0.005);
}

TEST_CASE("compress: without squeezing and detail the heights are those of depth alone") {
    // A cap of a sphere of 16 mm: its steepest slope, 14 / sqrt(16^2 - 14^2) = 1.8, is no step.
    const Shape cap = disc([](double x, double y) { return std::sqrt(256.0 - x * x - y * y); });
    CHECK(largest_difference(compressed(cap, {0.0, 0.0, 0.4, 0.0}), cap) < 0.002);
    CHECK(largest_difference(compressed(cap, {3.0, 0.0, 0.4, 0.0}), cap) > 0.05);  // it bites
}

TEST_CASE("compress: a steep form loses more of its height than a shallow one") {
    // A cone's slope is the same all over: ln(1 + k m) / k of it is left before the second squeeze.
    const auto cone_beside_ramp = [](double x, double y) {
        const double cone = std::max(0.0, 4.0 - 2.0 * std::hypot(x - 6.0, y));
        return cone + 0.1 * (x + 14.0);
    };
    const Shape shape = disc(cone_beside_ramp);
    const Plane result = compressed(shape, {3.0, 0.0, 0.4, 0.2});
    const double cone = at_mm(result, 6.0, 0.0) - at_mm(result, 6.0, 3.0);
    const double ramp = at_mm(result, 0.0, 0.0) - at_mm(result, -10.0, 0.0);
    CHECK(ramp > 0.0);
    CHECK(cone / ramp < 0.7 * 4.0);  // it was 4 to 1
    CHECK(cone > 0.0);
}

TEST_CASE("compress: fine forms are lifted by the detail") {
    const Shape shape = disc([](double x, double y) {
        return std::sqrt(256.0 - x * x - y * y) + 0.03 * std::cos(2.0 * 3.14159265 * x);
    });
    const double plain = ripple(compressed(shape, {3.0, 0.0, 0.5, 0.2}));
    const double lifted = ripple(compressed(shape, {3.0, 1.0, 0.5, 0.2}));
    CHECK(plain > 0.0);
    // Twice the slopes of the ripple, less what the whole has grown by.
    CHECK(lifted > 1.3 * plain);
    CHECK(lifted < 2.1 * plain);
}

TEST_CASE("compress: of a step a lip is left, and the heights on both sides fill the range") {
    const auto two_storeys = [](double x, double y) {
        const double bump = 0.5 * std::exp(-(std::pow(std::abs(x) - 6.0, 2) + y * y) / 4.0);
        return bump + (x > 0.0 ? 10.0 : 0.0);
    };
    const Shape shape = disc(two_storeys);
    const Plane result = compressed(shape, {0.0, 0.0, 0.4, 0.2});
    const double left = at_mm(result, -6.0, 0.0) - at_mm(result, -6.0, 9.0);
    const double right = at_mm(result, 6.0, 0.0) - at_mm(result, 6.0, 9.0);
    const double lip = at_mm(result, 1.0, 9.0) - at_mm(result, -1.0, 9.0);
    CHECK(left == doctest::Approx(right).epsilon(0.02));
    // 0.5 mm of bump and a lip of 0.2 mm: the whole is 0.7 mm, of which the step was 10.5.
    CHECK(left == doctest::Approx(0.5 / 0.7).epsilon(0.03));
    CHECK(lip == doctest::Approx(0.2 / 0.7).epsilon(0.06));
}

TEST_CASE("compress: groups that nothing joins keep which is higher") {
    Shape shape = disc(
        [](double x, double y) { return (x > 0.0 ? 6.0 : 0.0) + 0.3 * std::cos(x) * std::cos(y); });
    for (int y = 0; y < 240; ++y)
        for (int x = 120; x < 136; ++x) shape.coverage.at(x, y) = 0.0F;
    const Plane result = compressed(shape, {});
    CHECK(at_mm(result, 6.28, 0.0) > at_mm(result, -6.28, 0.0) + 0.2);
    CHECK(result.at(128, 120) == 0.0F);
}
