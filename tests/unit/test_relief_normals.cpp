// Normals of heights against those of planes and a sphere.

#include <doctest/doctest.h>

#include <cmath>

#include "relief/height_normals.hpp"

using namespace rakelight;

TEST_CASE("normals of a plane are its own, at the edges too") {
    Plane plane(9, 7);
    for (int y = 0; y < 7; ++y)
        for (int x = 0; x < 9; ++x)  // rises 0.5 to the right and 0.25 upwards, 10 px/mm
            plane.at(x, y) = 0.05F * static_cast<float>(x) - 0.025F * static_cast<float>(y);
    const HeightNormals normals = normals_of(plane, 10.0);
    const double length = std::sqrt(1.0 + 0.25 + 0.0625);
    for (std::size_t i = 0; i < plane.values.size(); ++i) {
        CHECK(normals.x.values[i] == doctest::Approx(-0.5 / length).epsilon(1e-5));
        CHECK(normals.y.values[i] == doctest::Approx(-0.25 / length).epsilon(1e-5));
        CHECK(normals.z.values[i] == doctest::Approx(1.0 / length).epsilon(1e-5));
    }
    CHECK(normals_of(Plane(1, 1, 3.0F), 10.0).z.at(0, 0) == 1.0F);
}

TEST_CASE("normals of a ball point away from its middle") {
    const double radius = 20.0, px_per_mm = 10.0;
    Plane ball(201, 201);
    const auto mm = [&](int i) { return (i - 100) / px_per_mm; };
    for (int y = 0; y < 201; ++y)
        for (int x = 0; x < 201; ++x)
            ball.at(x, y) =
                static_cast<float>(std::sqrt(radius * radius - mm(x) * mm(x) - mm(y) * mm(y)));
    const HeightNormals normals = normals_of(ball, px_per_mm);
    for (int y = 1; y < 200; y += 20) {
        for (int x = 1; x < 200; x += 20) {
            // Central differences are off by h^2 / 6 of the third derivative, here below 3e-5, and
            // heights by half a float's step, 1e-6 mm, over 0.2 mm.
            CHECK(std::abs(normals.x.at(x, y) - mm(x) / radius) < 1e-4);
            CHECK(std::abs(normals.y.at(x, y) + mm(y) / radius) < 1e-4);
        }
    }
}
