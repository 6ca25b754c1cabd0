// Mean curvature on the processor against closed forms: do Carmo, "Differential Geometry of Curves
// and Surfaces", section 3-3 (surfaces of revolution, graphs). Convex is positive.

#include <doctest/doctest.h>

#include <cmath>

#include "render/curvature_processor.hpp"
#include "render/depth_steps.hpp"
#include "test_render_maps.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

using Height = std::function<double(double, double)>;

std::vector<float> curvature(const Maps& maps, double scale_mm) {
    const auto mixed = mixed_pixels(maps.surface(), maps.grid.px_per_mm);
    return curvature_on_processor(scale_mm, maps.camera, maps.grid, maps.area, maps.surface(),
                                  mixed);
}

// Derivatives of a height, by central differences of double precision: good to 1e-6.
struct Graph {
    double fx, fy, fxx, fxy, fyy;
    Graph(const Height& f, double x, double y) {
        const double e = 1e-4;
        fx = (f(x + e, y) - f(x - e, y)) / (2 * e);
        fy = (f(x, y + e) - f(x, y - e)) / (2 * e);
        fxx = (f(x + e, y) - 2 * f(x, y) + f(x - e, y)) / (e * e);
        fyy = (f(x, y + e) - 2 * f(x, y) + f(x, y - e)) / (e * e);
        fxy = (f(x + e, y + e) - f(x - e, y + e) - f(x + e, y - e) + f(x - e, y - e)) / (4 * e * e);
    }
    glm::dvec3 normal() const { return glm::normalize(glm::dvec3(-fx, -fy, 1.0)); }
    double mean_curvature() const {
        const double size = 1.0 + fx * fx + fy * fy;
        return -((1 + fy * fy) * fxx - 2 * fx * fy * fxy + (1 + fx * fx) * fyy) /
               (2.0 * std::pow(size, 1.5));
    }
};

struct Shape {
    const char* name;
    Height height;
    double half_mm;  // of the square that is looked at, about the middle
};

std::vector<Shape> shapes() {
    return {
        {"sphere",
         [](double x, double y) { return std::sqrt(std::max(25.0 - x * x - y * y, 0.01)) - 5.0; },
         2.0},
        {"cylinder",
         [](double x, double y) {
             const double u = 0.8 * x + 0.6 * y;
             return std::sqrt(std::max(16.0 - u * u, 0.01)) - 4.0;
         },
         2.0},
        {"torus",
         [](double x, double y) {
             const double from_ring = std::hypot(x - 6.0, y) - 6.0;
             return std::sqrt(std::max(9.0 - from_ring * from_ring, 0.01)) - 3.0;
         },
         1.8},
        {"saddle", [](double x, double y) { return (x * x - 0.4 * y * y) / 6.0 + 0.1 * x * y; },
         2.0},
    };
}

struct Worst {
    double error = 0.0;
    double mean_error = 0.0;
    double size = 0.0;
};

// Over all pixels of the square, less the border that the Gaussian reaches.
Worst compare(const Shape& shape, double scale_mm, double eye_mm) {
    const double px = 25.0;
    const auto side = static_cast<int>(2.0 * (shape.half_mm + 3.2 * scale_mm) * px) | 1;
    const auto place = [&](glm::dvec2 b) { return meet(b, eye_mm, -4.9, 4.0, shape.height); };
    const auto maps = draw({side, side, px, -6.0, eye_mm}, [&](glm::dvec2 b) {
        const glm::dvec3 p = place(b);
        return Spot{p.z, Graph(shape.height, p.x, p.y).normal()};
    });
    const auto found = curvature(maps, scale_mm);
    const auto reach = static_cast<int>(shape.half_mm * px) - 1;
    Worst worst;
    for (int y = -reach; y <= reach; ++y) {
        for (int x = -reach; x <= reach; ++x) {
            const glm::dvec3 p = place(glm::dvec2(x, -y) / px);
            const double exact = Graph(shape.height, p.x, p.y).mean_curvature();
            const double error = std::fabs(found[maps.at(x, y)] - exact);
            worst.error = std::max(worst.error, error);
            worst.mean_error += error / ((2.0 * reach + 1) * (2.0 * reach + 1));
            worst.size = std::max(worst.size, std::fabs(exact));
        }
    }
    return worst;
}

}  // namespace

TEST_CASE("half a Gaussian starts at 1, falls as it should and ends within its limits") {
    CHECK(half_gaussian(0.2) == std::vector<float>{1.0F});  // no neighbour within three deviations
    const auto weights = half_gaussian(6.0);
    CHECK(weights.size() == 19);
    CHECK(weights[6] == doctest::Approx(std::exp(-0.5)));
    CHECK(half_gaussian(1e5).size() == 1024);
}

TEST_CASE("curvature of sphere, cylinder, torus and saddle at three scales, in both projections") {
    for (const auto& shape : shapes()) {
        for (const double scale_mm : {0.04, 0.12, 0.3}) {
            for (const double eye_mm : {0.0, 40.0}) {
                CAPTURE(shape.name);
                CAPTURE(scale_mm);
                CAPTURE(eye_mm);
                const Worst worst = compare(shape, scale_mm, eye_mm);
                // The product's target. What it consists of: rounding, as normals of 6e-8 over a
                // pixel's turn of 0.04 mm / 5 mm, 1e-5; and the mean of what bends over the scale.
                CHECK(worst.mean_error < 0.02 * worst.size);
                CHECK(worst.error < 0.05 * worst.size);
                CHECK(worst.size > 0.05);
            }
        }
    }
}

TEST_CASE("a sphere's curvature is exact at any scale: it is the same everywhere") {
    for (const double eye_mm : {0.0, 40.0}) {
        CAPTURE(eye_mm);
        const Worst worst = compare(shapes().front(), 0.2, eye_mm);
        CHECK(worst.error < 1e-3 * worst.size);  // rounding alone
    }
}

TEST_CASE("a depth step is no curvature, and neither side feels the other") {
    // A ball of radius 4 mm floats 1 mm over a plain; the right half of the picture sees the plain.
    for (const double scale_mm : {0.05, 0.2}) {
        CAPTURE(scale_mm);
        const auto maps = draw({161, 161, 40.0, -2.0}, [](glm::dvec2 b) {
            if (b.x > 0.013) return Spot{-1.0};
            const glm::dvec3 p(b, std::sqrt(16.0 - glm::dot(b, b)) - 3.0);
            return Spot{p.z, glm::normalize(p + glm::dvec3(0, 0, 3.0))};
        });
        const auto found = curvature(maps, scale_mm);
        for (int y = -20; y <= 20; ++y) {
            for (int x = -40; x <= 0; ++x) {
                CHECK(std::fabs(found[maps.at(x, y)] - 0.25) < 0.01 * 0.25);
            }
            for (int x = 1; x <= 40; ++x) CHECK(std::fabs(found[maps.at(x, y)]) < 0.01 * 0.25);
        }
    }
}

TEST_CASE("a pixel that shows two surfaces has no curvature and gives none to its neighbours") {
    auto maps = draw({41, 41, 20.0, -2.0}, [](glm::dvec2) { return Spot{0.0}; });
    const std::size_t at = maps.at(0, 0);
    maps.normal_coverage[4 * at] = 0.6F;
    maps.normal_coverage[4 * at + 2] = 0.8F;
    const auto bent = curvature(maps, 0.2);
    maps.lift_range[2 * at] = 0.5F;
    maps.lift_range[2 * at + 1] = 2.5F;
    const auto mixed = curvature(maps, 0.2);
    double most_bent = 0.0;
    double most_mixed = 0.0;
    for (std::size_t i = 0; i < bent.size(); ++i) {
        most_bent = std::max(most_bent, std::fabs(double{bent[i]}));
        most_mixed = std::max(most_mixed, std::fabs(double{mixed[i]}));
    }
    CHECK(most_bent > 0.005);
    CHECK(most_mixed == 0.0);
}

TEST_CASE("where nothing is, curvature is 0, and the background bends nothing") {
    const auto maps = draw({81, 81, 20.0, -6.0}, [](glm::dvec2 b) {
        if (glm::length(b) > 1.7) return std::optional<Spot>();
        const double z = std::sqrt(4.0 - glm::dot(b, b));
        return std::optional<Spot>({z, glm::dvec3(b, z) / 2.0});
    });
    const auto found = curvature(maps, 0.15);
    for (std::size_t i = 0; i < found.size(); ++i) {
        const double exact = maps.lift[i] > 0.0F ? 0.5 : 0.0;
        CHECK(std::fabs(found[i] - exact) < 2e-3);
    }
}

TEST_CASE("a Gaussian in a few runs has its variance and its shape") {
    for (const double scale_px : {1.0, 7.9, 8.1, 11.0, 16.0, 16.5, 19.0, 40.0, 64.0, 66.0, 75.0}) {
        CAPTURE(scale_px);
        std::vector<double> response(2001, 0.0);
        response[1000] = 1.0;
        for (const auto& level : smoothing_levels(scale_px)) {
            std::vector<double> next(response.size(), 0.0);
            double total = 0.0;
            const int count = static_cast<int>(level.weights.size());
            for (int k = 1 - count; k < count; ++k) {
                const double weight = level.weights[static_cast<std::size_t>(std::abs(k))];
                total += weight;
                for (int i = 400; i <= 1600; ++i) {
                    next[static_cast<std::size_t>(i + k * level.stride_px)] +=
                        weight * response[static_cast<std::size_t>(i)];
                }
            }
            for (auto& value : next) value /= total;
            response = next;
        }
        double variance = 0.0;
        double apart = 0.0;
        for (int i = 0; i <= 2000; ++i) {
            const double x = i - 1000.0;
            const double gaussian = std::exp(-0.5 * x * x / (scale_px * scale_px)) /
                                    (scale_px * std::sqrt(2.0 * std::numbers::pi));
            variance += x * x * response[static_cast<std::size_t>(i)];
            apart += std::fabs(response[static_cast<std::size_t>(i)] - gaussian);
        }
        // Beyond three deviations lie 0.27 % of a Gaussian and 2.9 % of its variance (from memory).
        CHECK(std::sqrt(variance) == doctest::Approx(scale_px).epsilon(0.02));
        CHECK(apart < 0.02);
        // The cost: a few dozen taps whatever the scale.
        std::size_t taps = 0;
        for (const auto& level : smoothing_levels(scale_px)) taps += 2 * level.weights.size();
        CHECK(taps < 100);
    }
}
