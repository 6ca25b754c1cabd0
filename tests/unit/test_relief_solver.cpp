// The solver against heights that are known beforehand.

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "relief/grid_solver.hpp"

using namespace rakelight;

namespace {

WantedHeights nothing_wanted(int width, int height) {
    const Plane zero(width, height);
    return {zero, zero, zero, zero, zero, zero};
}

/// All differences of `heights` between neighbours that take part, and a hold of the same heights.
WantedHeights differences_of(const Plane& heights, const Plane& inside, float hold) {
    WantedHeights wanted = nothing_wanted(heights.width, heights.height);
    for (int y = 0; y < heights.height; ++y) {
        for (int x = 0; x < heights.width; ++x) {
            if (inside.at(x, y) == 0.0F) continue;
            wanted.hold.at(x, y) = hold;
            wanted.held_to.at(x, y) = heights.at(x, y);
            if (x + 1 < heights.width && inside.at(x + 1, y) > 0.0F) {
                wanted.across_weight.at(x, y) = 1.0F;
                wanted.across.at(x, y) = heights.at(x + 1, y) - heights.at(x, y);
            }
            if (y + 1 < heights.height && inside.at(x, y + 1) > 0.0F) {
                wanted.down_weight.at(x, y) = 1.0F;
                wanted.down.at(x, y) = heights.at(x, y + 1) - heights.at(x, y);
            }
        }
    }
    return wanted;
}

double largest_difference(const Plane& a, const Plane& b, const Plane& inside) {
    double largest = 0.0;
    for (std::size_t i = 0; i < a.values.size(); ++i)
        if (inside.values[i] > 0.0F)
            largest = std::max(largest, std::abs(static_cast<double>(a.values[i]) - b.values[i]));
    return largest;
}

Plane some_heights(int width, int height) {
    Plane heights(width, height);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
            heights.at(x, y) =
                static_cast<float>(std::sin(0.05 * x) + std::cos(0.08 * y + 0.01 * x));
    return heights;
}

}  // namespace

TEST_CASE("solver: heights whose differences are wanted come back, in an odd shape with a hole") {
    const int width = 301, height = 187;
    const Plane heights = some_heights(width, height);
    Plane inside(width, height);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            const double r = std::hypot(x - 150.0, (y - 90.0) * 1.4);
            const bool island = std::hypot(x - 20.0, y - 20.0) < 9.0;
            inside.at(x, y) = island || (r < 120.0 && r > 30.0) ? 1.0F : 0.0F;
        }
    }
    Plane result(width, height);
    const SolveReport report =
        solve_heights(differences_of(heights, inside, 1e-3F), result, 1e-6, 200);
    CHECK(report.residual <= 1e-6);
    CHECK(report.rounds < 40);
    // The error is at most the residual times the condition, about 8 / hold = 8000; far less here.
    CHECK(largest_difference(result, heights, inside) < 1e-3);
    for (std::size_t i = 0; i < result.values.size(); ++i)
        if (inside.values[i] == 0.0F) CHECK(result.values[i] == 0.0F);
}

TEST_CASE("solver: a hold far below a float's step beside the weights is still felt") {
    const int width = 700, height = 420;
    const Plane heights = some_heights(width, height);
    const Plane inside(width, height, 1.0F);
    Plane result(width, height, 50.0F);  // and a first guess that is far off
    const SolveReport report = solve_heights(differences_of(heights, inside, 1e-7F), result, 1e-4);
    CHECK(report.residual <= 1e-4);
    CHECK(report.rounds < 15);
    // Heights to each other; their mean hangs on the hold alone, and comes in last.
    CHECK(std::abs((result.at(650, 400) - result.at(20, 30)) -
                   (heights.at(650, 400) - heights.at(20, 30))) < 0.02);
}

TEST_CASE("solver: a cosine is the grid's own wave, damped by a known factor") {
    // On a rectangle without neighbours beyond it u = cos(pi k (x + 1/2) / n) is an eigenvector of
    // the five-point Laplacian with value 2 - 2 cos(pi k / n) (discrete cosine transform, Strang
    // 1999, "The Discrete Cosine Transform", SIAM Review 41(1)). Held to it by c, with differences
    // of 0 wanted: u = c / (c + lambda) t.
    const int width = 256, height = 160;
    const double hold = 0.01;
    Plane wave(width, height);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x)
            wave.at(x, y) = static_cast<float>(std::cos(std::numbers::pi * 3 * (x + 0.5) / width) *
                                               std::cos(std::numbers::pi * 2 * (y + 0.5) / height));
    WantedHeights wanted =
        differences_of(wave, Plane(width, height, 1.0F), static_cast<float>(hold));
    std::fill(wanted.across.values.begin(), wanted.across.values.end(), 0.0F);
    std::fill(wanted.down.values.begin(), wanted.down.values.end(), 0.0F);
    Plane result(width, height);
    solve_heights(wanted, result, 1e-6, 200);
    const double lambda = 4.0 - 2.0 * std::cos(std::numbers::pi * 3 / width) -
                          2.0 * std::cos(std::numbers::pi * 2 / height);
    Plane expected = wave;
    for (float& v : expected.values) v *= static_cast<float>(hold / (hold + lambda));
    CHECK(lambda > 0.2 * hold);  // it is damped by much
    // The error is at most the residual over the least eigenvalue, hold: 1e-6 |c t| / c, |t| half
    // the root of the pixels' number.
    const double bound = 1e-6 * 0.5 * std::sqrt(width * height);
    CHECK(largest_difference(result, expected, Plane(width, height, 1.0F)) < bound);
}

TEST_CASE("solver: no differences that agree: the result is the least of all sums around it") {
    const int width = 90, height = 71;
    std::mt19937 random(5);
    std::uniform_real_distribution<float> any(-1.0F, 1.0F);
    const Plane all(width, height, 1.0F);
    WantedHeights wanted = differences_of(some_heights(width, height), all, 0.02F);
    for (Plane* plane : {&wanted.across, &wanted.down, &wanted.held_to})
        for (float& v : plane->values) v = any(random);
    for (Plane* plane : {&wanted.across_weight, &wanted.down_weight})
        for (float& v : plane->values) v *= 1.5F + any(random);
    Plane result(width, height);
    solve_heights(wanted, result, 1e-7, 300);
    const auto total = [&] {
        double sum = 0.0;
        const auto add = [&sum](double weight, double off) { sum += weight * off * off; };
        for (int y = 0; y < height; ++y) {
            for (int x = 0; x < width; ++x) {
                const double u = result.at(x, y);
                add(wanted.hold.at(x, y), u - wanted.held_to.at(x, y));
                if (x + 1 < width)
                    add(wanted.across_weight.at(x, y),
                        result.at(x + 1, y) - u - wanted.across.at(x, y));
                if (y + 1 < height)
                    add(wanted.down_weight.at(x, y),
                        result.at(x, y + 1) - u - wanted.down.at(x, y));
            }
        }
        return sum;
    };
    const double least = total();
    for (int i = 0; i < 50; ++i) {
        float& value = result.values[static_cast<std::size_t>(i) * 127];
        const float before = value;
        for (const float change : {-0.01F, 0.01F}) {
            value = before + change;
            CHECK(total() > least);
        }
        value = before;
    }
}

TEST_CASE("solver: nothing wanted is nothing, a pixel alone is what it is held to") {
    Plane result(5, 4, 7.0F);
    CHECK(solve_heights(nothing_wanted(5, 4), result).rounds == 0);
    CHECK(result.values == std::vector<float>(20, 0.0F));
    WantedHeights one = nothing_wanted(5, 4);
    one.hold.at(2, 1) = 0.5F;
    one.held_to.at(2, 1) = 3.0F;
    solve_heights(one, result);
    CHECK(result.at(2, 1) == doctest::Approx(3.0F));
    CHECK(result.at(3, 1) == 0.0F);
}
