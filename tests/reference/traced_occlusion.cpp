#include "traced_occlusion.hpp"

namespace reference {
namespace {

constexpr double pi = 3.14159265358979323846;
constexpr int strata_u = 32, strata_v = 32;
static_assert(strata_u * strata_v == rays_per_pixel);

// Single precision misplaces a place some 20 mm away by 2e-6 mm. A surface that is seen under 1 in
// 50, at the outline, is still left by ten times that; and it is a 25th of the way to the next
// sample at 10 px/mm.
constexpr double lift_off_mm = 1e-3;

// SplitMix64 (Steele, Lea, Flood 2014, "Fast Splittable Pseudorandom Number Generators").
class Draw {
public:
    explicit Draw(std::uint64_t seed) : state_(seed) {}
    double next() {
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
        return static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1p-53;
    }

private:
    std::uint64_t state_;
};

// Malley's method: a point of the unit disc, evenly, raised to the hemisphere.
glm::dvec3 cosine_direction(glm::dvec3 normal, double u, double v) {
    const glm::dvec3 helper = std::abs(normal.z) < 0.9 ? glm::dvec3(0, 0, 1) : glm::dvec3(1, 0, 0);
    const glm::dvec3 right = glm::normalize(glm::cross(helper, normal));
    const glm::dvec3 up = glm::cross(normal, right);
    const double r = std::sqrt(u), turn = 2.0 * pi * v;
    return r * std::cos(turn) * right + r * std::sin(turn) * up + std::sqrt(1.0 - u) * normal;
}

}  // namespace

// Strata are dealt to the samples as to the squares of a board, so that the rays of one sample are
// spread evenly too.
OpenShare traced_open_share(const SampleGrid& grid, int x, int y, double reach_mm,
                            const Blocked& blocked) {
    const int n = grid.per_axis;
    Draw draw(static_cast<std::uint64_t>(y) * static_cast<std::uint64_t>(grid.width) +
              static_cast<std::uint64_t>(x));
    std::array<int, 2> open{}, all{};
    for (int k = 0; k < rays_per_pixel; ++k) {
        const int i = k % strata_u, j = k / strata_u;
        const double u = (i + draw.next()) / strata_u, v = (j + draw.next()) / strata_v;
        const Sample& sample = grid.at(x * n + i % n, y * n + j % n);
        if (!sample.hit()) continue;
        const glm::dvec3 from = sample.at + lift_off_mm * glm::dvec3(sample.to_viewer);
        const auto half = static_cast<std::size_t>((i / n + j / n) % 2);
        ++all[half];
        open[half] += !blocked(from, cosine_direction(sample.normal, u, v), reach_mm);
    }
    OpenShare share;
    if (all[0] + all[1] == 0) return share;
    share.value = static_cast<double>(open[0] + open[1]) / (all[0] + all[1]);
    if (all[0] > 0 && all[1] > 0) {
        share.half_difference =
            0.5 * (static_cast<double>(open[0]) / all[0] - static_cast<double>(open[1]) / all[1]);
    }
    return share;
}

}  // namespace reference
