#include "render/depth_steps.hpp"

#include <algorithm>
#include <cmath>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

// What the neighbours on one side of a step have to say.
struct Side {
    double sum = 0.0;
    int count = 0;
    void add(double value) {
        sum += value;
        ++count;
    }
    double mean() const { return sum / count; }
};

struct Sides {
    Side near;
    Side far;
    bool empty() const { return near.count + far.count == 0; }
};

struct Pixel {
    int x;
    int y;
};

std::size_t index_of(const SurfaceMaps& maps, Pixel at) {
    return static_cast<std::size_t>(at.y) * maps.width + at.x;
}

Sides gather(const SurfaceMaps& maps, const std::vector<std::uint8_t>& mixed,
             const std::vector<float>& values, Pixel at, int reach) {
    const float* range = maps.lift_range_mm + 2 * index_of(maps, at);
    const float middle = 0.5F * (std::fabs(range[0]) + range[1]);
    Sides sides;
    for (int y = std::max(at.y - reach, 0); y <= std::min(at.y + reach, maps.height - 1); ++y) {
        for (int x = std::max(at.x - reach, 0); x <= std::min(at.x + reach, maps.width - 1); ++x) {
            const std::size_t i = index_of(maps, {x, y});
            if (mixed[i] != 0 || maps.lift_mm[i] <= 0.0F) continue;
            (maps.lift_mm[i] > middle ? sides.near : sides.far).add(values[i]);
        }
    }
    return sides;
}

double near_share(const SurfaceMaps& maps, std::size_t i) {
    const double low = std::fabs(maps.lift_range_mm[2 * i]);
    const double high = maps.lift_range_mm[2 * i + 1];
    return std::clamp((maps.lift_mm[i] - low) / std::max(high - low, 1e-12), 0.0, 1.0);
}

}  // namespace

std::vector<std::uint8_t> mixed_pixels(const SurfaceMaps& maps, double px_per_mm) {
    std::vector<std::uint8_t> mixed(static_cast<std::size_t>(maps.width) * maps.height);
    const auto px_mm = static_cast<float>(1.0 / px_per_mm);
    for_row_bands(maps.height, [&](int first, int end) {
        for (std::size_t i = index_of(maps, {0, first}); i < index_of(maps, {0, end}); ++i) {
            if (maps.lift_mm[i] <= 0.0F) continue;
            const float* n = maps.normal_coverage + 4 * i;
            const float slope = (std::fabs(n[0]) + std::fabs(n[1])) / std::max(n[2], 0.02F);
            const float* range = maps.lift_range_mm + 2 * i;
            mixed[i] = range[1] - std::fabs(range[0]) > (2.0F * slope + 1.0F) * px_mm ? 1 : 0;
        }
    });
    return mixed;
}

void blend_mixed_pixels(const SurfaceMaps& maps, const std::vector<std::uint8_t>& mixed,
                        std::vector<float>& values) {
    const std::vector<float> before = values;
    for_row_bands(maps.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < maps.width; ++x) {
                const std::size_t i = index_of(maps, {x, y});
                if (mixed[i] == 0) continue;
                Sides sides = gather(maps, mixed, before, {x, y}, 1);
                if (sides.empty()) sides = gather(maps, mixed, before, {x, y}, 2);
                if (sides.empty()) continue;
                const double share = sides.near.count == 0  ? 0.0
                                     : sides.far.count == 0 ? 1.0
                                                            : near_share(maps, i);
                const double near = sides.near.count > 0 ? share * sides.near.mean() : 0.0;
                const double far = sides.far.count > 0 ? (1.0 - share) * sides.far.mean() : 0.0;
                values[i] = static_cast<float>(near + far);
            }
        }
    });
}

}  // namespace rakelight
