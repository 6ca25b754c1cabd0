#include "relief/compress.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <utility>

#include "image/pixels.hpp"
#include "image/row_bands.hpp"
#include "relief/blur.hpp"
#include "relief/grid_solver.hpp"
#include "relief/height_range.hpp"

namespace rakelight {
namespace {

constexpr float step_slope = 8.0F;   ///< 83 degrees: no surface of a relief is as steep
constexpr double middle_size = 3.3;  ///< of the middle forms, in detail_mm
constexpr double solve_residual = 1e-4;
constexpr float flattest = 1e-6F;  ///< slopes below it need no squeezing
/// A group of pixels that nothing joins to the rest is held to its height as if by a spring that
/// gives way over this many pictures.
constexpr double hold_pictures = 4.0;

/// A value for the pair of each pixel and its right neighbour, and for that with its lower one.
struct Pairs {
    Plane across, down;
    Pairs(int width, int height) : across(width, height), down(width, height) {}
};

/// Slopes of the surface where both pixels of a pair show it; the lips of depth steps apart.
struct Slopes {
    Pairs surface;  ///< mm for a mm
    Pairs weight;   ///< 1: both pixels are the subject's
    Pairs smooth;   ///< 1: and no step lies between them
    Pairs lip_mm;

    Slopes(int width, int height)
        : surface(width, height),
          weight(width, height),
          smooth(width, height),
          lip_mm(width, height) {}
};

struct PairPlanes {
    Plane &slope, &weight, &smooth, &lip_mm;
};

void set_pair(const PairPlanes& to, std::size_t i, float rise_mm, float px_per_mm, float lip_mm) {
    to.weight.values[i] = 1.0F;
    const float slope = rise_mm * px_per_mm;
    if (std::abs(slope) < step_slope) {
        to.slope.values[i] = slope;
        to.smooth.values[i] = 1.0F;
    } else if (lip_mm > 0.0F) {
        const float left = lip_mm * (1.0F - std::exp(-std::abs(rise_mm) / lip_mm));
        to.lip_mm.values[i] = std::copysign(left, rise_mm);
    }
}

Slopes slopes_of(const Plane& height_mm, const Plane& coverage, double px_per_mm, double lip_mm) {
    const int width = height_mm.width, height = height_mm.height;
    Slopes slopes(width, height);
    const PairPlanes across{slopes.surface.across, slopes.weight.across, slopes.smooth.across,
                            slopes.lip_mm.across};
    const PairPlanes down{slopes.surface.down, slopes.weight.down, slopes.smooth.down,
                          slopes.lip_mm.down};
    const auto px = static_cast<float>(px_per_mm);
    const auto lip = static_cast<float>(lip_mm);
    for_row_bands(height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < width; ++x) {
                if (coverage.at(x, y) <= 0.0F) continue;
                const std::size_t i = static_cast<std::size_t>(y) * width + x;
                const float here = height_mm.values[i];
                if (x + 1 < width && coverage.at(x + 1, y) > 0.0F)
                    set_pair(across, i, height_mm.at(x + 1, y) - here, px, lip);
                if (y + 1 < height && coverage.at(x, y + 1) > 0.0F)
                    set_pair(down, i, height_mm.at(x, y + 1) - here, px, lip);
            }
        }
    });
    return slopes;
}

/// The slope at a pixel, of the pair before it where its own shows no surface.
float slope_at(const Plane& slopes, const Plane& smooth, std::size_t i, bool has_before,
               std::size_t before) {
    return smooth.values[i] == 0.0F && has_before ? slopes.values[before] : slopes.values[i];
}

/// Both slopes of a pixel are made smaller by one factor, so that they keep their direction.
void squeeze(Pairs& slopes, const Pairs& smooth, double strength) {
    const auto k = static_cast<float>(strength);
    if (k <= 0.0F) return;
    const Pairs all = slopes;
    const auto width = static_cast<std::size_t>(all.across.width);
    for_pixels(slopes.across, [&](std::size_t i) {
        const float across = slope_at(all.across, smooth.across, i, i % width > 0, i - 1);
        const float down = slope_at(all.down, smooth.down, i, i >= width, i - width);
        const float m = std::sqrt(across * across + down * down);
        if (m < flattest) return;
        const float factor = std::log1p(k * m) / (k * m);
        slopes.across.values[i] *= factor;
        slopes.down.values[i] *= factor;
    });
}

/// Adds what is finer than sigma, times gain, and leaves the rest in `slopes`.
void take_finer(Plane& slopes, const Plane& smooth, double sigma_px, double gain, Plane& sum) {
    Plane coarse = slopes;
    blur(coarse, smooth, sigma_px);
    const auto g = static_cast<float>(gain);
    for_pixels(sum, [&](std::size_t i) {
        sum.values[i] += g * (slopes.values[i] - coarse.values[i]) * smooth.values[i];
        slopes.values[i] = coarse.values[i];
    });
}

/// Steps 2 and 3 of the header.
Pairs wanted_slopes(Slopes& slopes, double px_per_mm, const CompressSettings& settings) {
    Pairs& left = slopes.surface;
    Pairs sum(left.across.width, left.across.height);
    squeeze(left, slopes.smooth, settings.squeeze);
    const double fine_px = settings.detail_mm * px_per_mm;
    for (const auto& [size, gain] : {std::pair(1.0, 1.0 + settings.detail),
                                     std::pair(middle_size, 1.0 + 0.5 * settings.detail)}) {
        take_finer(left.across, slopes.smooth.across, size * fine_px, gain, sum.across);
        take_finer(left.down, slopes.smooth.down, size * fine_px, gain, sum.down);
    }
    squeeze(left, slopes.smooth, settings.squeeze);
    for_pixels(sum.across, [&](std::size_t i) {
        sum.across.values[i] += left.across.values[i] * slopes.smooth.across.values[i];
        sum.down.values[i] += left.down.values[i] * slopes.smooth.down.values[i];
    });
    return sum;
}

/// How much of the subject's rise and fall is left, as a factor: what groups of pixels that nothing
/// joins keep of their heights.
double share_left(const Pairs& wanted, const Slopes& slopes, const Plane& height_mm,
                  double px_per_mm) {
    double before = 0.0, after = 0.0;
    for (int y = 0; y < height_mm.height; ++y) {
        for (int x = 0; x + 1 < height_mm.width; ++x) {
            if (slopes.smooth.across.at(x, y) == 0.0F) continue;
            before += std::abs(height_mm.at(x + 1, y) - height_mm.at(x, y));
            after += std::abs(wanted.across.at(x, y)) / px_per_mm;
        }
    }
    return before > 0.0 ? after / before : 1.0;
}

WantedHeights wanted_heights(const Plane& height_mm, const Plane& coverage, double px_per_mm,
                             const CompressSettings& settings) {
    Slopes slopes = slopes_of(height_mm, coverage, px_per_mm, settings.lip_mm);
    Pairs wanted = wanted_slopes(slopes, px_per_mm, settings);
    const auto kept = static_cast<float>(share_left(wanted, slopes, height_mm, px_per_mm));
    const double reach_px = hold_pictures * std::max(height_mm.width, height_mm.height);
    const auto hold = static_cast<float>(1.0 / (reach_px * reach_px));
    const auto px_mm = static_cast<float>(1.0 / px_per_mm);
    Plane holds(height_mm.width, height_mm.height), held_to = holds;
    for_pixels(holds, [&](std::size_t i) {
        wanted.across.values[i] = wanted.across.values[i] * px_mm + slopes.lip_mm.across.values[i];
        wanted.down.values[i] = wanted.down.values[i] * px_mm + slopes.lip_mm.down.values[i];
        if (coverage.values[i] <= 0.0F) return;
        holds.values[i] = hold;
        held_to.values[i] = kept * height_mm.values[i];
    });
    return {
        std::move(slopes.weight.across), std::move(wanted.across), std::move(slopes.weight.down),
        std::move(wanted.down),          std::move(holds),         std::move(held_to)};
}

/// The subject's lowest to 0, its highest to 1.
void spread(Plane& heights, const Plane& coverage) {
    const HeightRange range = range_of(heights, coverage);
    const float scale = range.size() > 0.0F ? 1.0F / range.size() : 0.0F;
    for_pixels(heights, [&](std::size_t i) {
        heights.values[i] = coverage.values[i] > 0.0F
                                ? std::min(1.0F, (heights.values[i] - range.low) * scale)
                                : 0.0F;
    });
}

}  // namespace

Plane compressed_heights(const Plane& height_mm, const Plane& coverage, double px_per_mm,
                         const CompressSettings& settings) {
    assert(coverage.values.size() == height_mm.values.size());
    assert(settings.detail_mm > 0.0 && settings.squeeze >= 0.0 && settings.detail >= 0.0);
    if (range_of(height_mm, coverage).is_level(height_mm, px_per_mm))
        return Plane(height_mm.width, height_mm.height);
    const WantedHeights wanted = wanted_heights(height_mm, coverage, px_per_mm, settings);
    Plane heights = wanted.held_to;
    solve_heights(wanted, heights, solve_residual);
    spread(heights, coverage);
    return heights;
}

}  // namespace rakelight
