// Method and sources: shaders/curvature.frag and smooth.frag, which this follows line by line. The
// loops run over blocks of pixels within a row, neighbours outside and pixels inside, so that a
// look-up is one vector load.

#include "render/curvature_processor.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "image/row_bands.hpp"
#include "render/padded_plane.hpp"
#include "render/processor_kernel.hpp"

namespace rakelight {
namespace {

constexpr std::size_t max_weights = 1024;
// Below this a mean rests on next to nothing: 0 then, as where nothing is.
constexpr float least_trust = 1e-6F;

// How pixels become view space, in single precision as the shaders have it.
struct View {
    float floor_mm = 0.0F;
    float mm_per_px = 0.0F;
    float per_eye = 0.0F;  // 1 / eye, 1/mm; 0 in parallel projection
    float first_x = 0.0F;  // on the blank from the view axis: the centre of map pixel (0, 0), mm
    float first_y = 0.0F;
    int first_row = 0;

    // How the view ray of a pixel leans away from the view axis; 0 in parallel projection.
    glm::vec2 lean_at(int x, int y) const {
        return {(first_x + static_cast<float>(x) * mm_per_px) * per_eye,
                (first_y - static_cast<float>(y + first_row) * mm_per_px) * per_eye};
    }
};

View make_view(const Camera& camera, const ImageGrid& grid, const WorkArea& area) {
    View view;
    view.floor_mm = static_cast<float>(area.floor_mm);
    view.mm_per_px = static_cast<float>(1.0 / grid.px_per_mm);
    if (camera.projection == Projection::parallel) return view;
    const glm::dvec2 first = grid.centre_of(area.rect.x, area.rect.y) - camera.picture_mm;
    view.per_eye = static_cast<float>(1.0 / camera.eye_mm);
    view.first_x = static_cast<float>(first.x);
    view.first_y = static_cast<float>(first.y);
    return view;
}

template <typename ValueAt>
PaddedPlane plane_of(const SurfaceMaps& maps, int pad_px, const ValueAt& value_at) {
    PaddedPlane plane(maps.width, maps.height, pad_px);
    for_row_bands(plane.rows(), [&](int first, int end) {
        for (int row = first; row < end; ++row) {
            const int y = row - pad_px;
            if (y < 0 || y >= maps.height) {
                plane.fill_outside(row, 0.0F);
            } else {
                plane.fill_row(y, 0.0F, [&](int x) { return value_at(x, y); });
            }
        }
    });
    return plane;
}

// The visible surface around each pixel, with the border that all look-ups need.
struct SurfacePlanes {
    PaddedPlane lift;  // mm over the floor; 0: nothing, or two surfaces at a depth step
    PaddedPlane nx;
    PaddedPlane ny;
    PaddedPlane nz;
};

SurfacePlanes make_planes(const SurfaceMaps& maps, const std::vector<std::uint8_t>& mixed,
                          int pad_px) {
    const auto index = [&](int x, int y) { return static_cast<std::size_t>(y) * maps.width + x; };
    const auto normal = [&](int part) {
        return plane_of(maps, pad_px, [&maps, index, part](int x, int y) {
            return maps.normal_coverage[4 * index(x, y) + static_cast<std::size_t>(part)];
        });
    };
    auto lift = plane_of(maps, pad_px, [&](int x, int y) {
        return mixed[index(x, y)] == 0 ? maps.lift_mm[index(x, y)] : 0.0F;
    });
    return {std::move(lift), normal(0), normal(1), normal(2)};
}

// --- The fit ---------------------------------------------------------------------------------

// A block of pixels: where its values lie and how its view rays lean.
struct Block {
    const float* lift;
    const float* nx;
    const float* ny;
    const float* nz;
    float lean_x[block_px];
    float lean_y[block_px];
};

struct Neighbour {
    std::ptrdiff_t at;  // distance in the planes' memory
    float x;            // offset on the blank, mm, x right, y up
    float y;
};

// w dp dp^T and w dn dp^T; nxy has xy and yx.
struct Sums {
    float pxx[block_px], pxy[block_px], pyy[block_px];
    float nxx[block_px], nxy[block_px], nyy[block_px];
};

RAKELIGHT_KERNEL float square(float a) {
    return a * a;
}

// 1 - smoothstep(0.25, 0.64, share)
RAKELIGHT_KERNEL float smooth_share(float share) {
    const float along = (share - 0.25F) / (0.64F - 0.25F);
    const float low = along > 0.0F ? along : 0.0F;
    const float t = low < 1.0F ? low : 1.0F;
    return 1.0F - t * t * (3.0F - 2.0F * t);
}

// How far pixel i of the block and the one at distance `at` in memory, (x, y) mm away across the
// view axis, may be of one smooth piece: on any arc of a circle the chord is square to the sum of
// the normals. 0 on a step, and where nothing is.
RAKELIGHT_KERNEL float one_piece(const Block& b, int i, std::ptrdiff_t at, float x, float y) {
    const std::ptrdiff_t k = i + at;
    const float rise = b.lift[k] - b.lift[i];
    const float chord_x = x - rise * b.lean_x[i];
    const float chord_y = y - rise * b.lean_y[i];
    const float sx = b.nx[i] + b.nx[k];
    const float sy = b.ny[i] + b.ny[k];
    const float sz = b.nz[i] + b.nz[k];
    const float leave = chord_x * sx + chord_y * sy + rise * sz;
    const float size =
        (square(chord_x) + square(chord_y) + square(rise)) * (square(sx) + square(sy) + square(sz));
    const float share = square(leave) / (size > 1e-30F ? size : 1e-30F);
    return b.lift[k] > 0.0F ? smooth_share(share) : 0.0F;
}

RAKELIGHT_KERNEL void add_neighbour(const View& view, const Neighbour& next, const Block& b,
                                    Sums& sums) {
    for (int i = 0; i < block_px; ++i) {
        const std::ptrdiff_t k = i + next.at;
        const float scale =
            1.0F - (b.lift[k] + view.floor_mm) * view.per_eye;  // 1 in parallel projection
        const float x = next.x * scale;
        const float y = next.y * scale;
        const float turn_z = b.nz[k] - b.nz[i];
        const float turn_x = b.nx[k] - b.nx[i] + turn_z * b.lean_x[i];
        const float turn_y = b.ny[k] - b.ny[i] + turn_z * b.lean_y[i];
        const float w = one_piece(b, i, next.at, x, y);
        sums.pxx[i] += w * (x * x);
        sums.pxy[i] += w * (x * y);
        sums.pyy[i] += w * (y * y);
        sums.nxx[i] += w * (turn_x * x);
        sums.nxy[i] += w * (turn_x * y + turn_y * x);
        sums.nyy[i] += w * (turn_y * y);
    }
}

// A block of results: curvature times its trust, and the trust.
struct Trusted {
    float sum[block_px];
    float trust[block_px];
};

// A fit to all eight neighbours has full trust, moments of 6 px^2 along each axis; one to a few on
// one side of a step, whose error is larger, has that much less: the determinant's share, squared.
RAKELIGHT_KERNEL void solve(const View& view, const Block& b, const Sums& sums, Trusted& result) {
    for (int i = 0; i < block_px; ++i) {
        const float size = sums.pxx[i] + sums.pyy[i];
        const float xx = sums.pxx[i] + 1e-6F * size;  // keeps one line of neighbours solvable
        const float yy = sums.pyy[i] + 1e-6F * size;
        const float determinant = xx * yy - sums.pxy[i] * sums.pxy[i];
        const float trace = sums.nxx[i] * yy - sums.nxy[i] * sums.pxy[i] + sums.nyy[i] * xx;
        const bool solvable = (b.lift[i] > 0.0F) & (size > 0.0F);
        const float mean = 0.5F * trace / (solvable ? determinant : 1.0F);
        const float scale = 1.0F - (b.lift[i] + view.floor_mm) * view.per_eye;
        const float full = 6.0F * square(view.mm_per_px * scale);
        const float share = determinant / square(full);
        const float trust = solvable ? square(share < 1.0F ? share : 1.0F) : 0.0F;
        result.sum[i] = solvable ? mean * trust : 0.0F;
        result.trust[i] = trust;
    }
}

RAKELIGHT_KERNEL void fit(const View& view, std::ptrdiff_t row_step, const Block& b,
                          Trusted& result) {
    Sums sums;
    for (float* sum : {sums.pxx, sums.pxy, sums.pyy, sums.nxx, sums.nxy, sums.nyy}) {
        for (int i = 0; i < block_px; ++i) sum[i] = 0.0F;
    }
    for (int y = -1; y <= 1; ++y) {
        for (int x = -1; x <= 1; ++x) {
            if (x == 0 && y == 0) continue;
            const Neighbour next{y * row_step + x, static_cast<float>(x) * view.mm_per_px,
                                 static_cast<float>(-y) * view.mm_per_px};
            add_neighbour(view, next, b, sums);
        }
    }
    solve(view, b, sums, result);
}

// --- The mean under a Gaussian -----------------------------------------------------------------

// Sums and trusts along rows or columns.
struct Chain {
    const float* sums;
    const float* trusts;
    Neighbour next;
};

// Adds what lies k pixels along, to both sides, each by the Gaussian and as far as it is of one
// piece.
RAKELIGHT_KERNEL void smooth(const View& view, const Chain& chain,
                             const std::vector<float>& weights, const Block& b, Trusted& result) {
    float sum[block_px];  // of its own, so that the compiler sees that nothing else lies there
    float trust[block_px];
    for (int i = 0; i < block_px; ++i) sum[i] = chain.sums[i];
    for (int i = 0; i < block_px; ++i) trust[i] = chain.trusts[i];
    const auto count = static_cast<std::ptrdiff_t>(weights.size());
    for (std::ptrdiff_t k = 1 - count; k < count; ++k) {
        if (k == 0) continue;
        const float weight = weights[static_cast<std::size_t>(k < 0 ? -k : k)];
        const std::ptrdiff_t at = k * chain.next.at;
        for (int i = 0; i < block_px; ++i) {
            const float scale = 1.0F - (b.lift[i + at] + view.floor_mm) * view.per_eye;
            const float step = static_cast<float>(k) * scale;
            const float w = weight * one_piece(b, i, at, chain.next.x * step, chain.next.y * step);
            sum[i] += w * chain.sums[i + at];
            trust[i] += w * chain.trusts[i + at];
        }
    }
    for (int i = 0; i < block_px; ++i) result.sum[i] = b.lift[i] > 0.0F ? sum[i] : 0.0F;
    for (int i = 0; i < block_px; ++i) result.trust[i] = b.lift[i] > 0.0F ? trust[i] : 0.0F;
}

// --- Both, plain and for AVX2 ------------------------------------------------------------------

void plain_fit(const View& view, std::ptrdiff_t row_step, const Block& block, Trusted& result) {
    fit(view, row_step, block, result);
}
void plain_smooth(const View& view, const Chain& chain, const std::vector<float>& weights,
                  const Block& block, Trusted& result) {
    smooth(view, chain, weights, block, result);
}

#ifdef RAKELIGHT_HAS_WIDE_KERNELS
RAKELIGHT_WIDE void wide_fit(const View& view, std::ptrdiff_t row_step, const Block& block,
                             Trusted& result) {
    fit(view, row_step, block, result);
}
RAKELIGHT_WIDE void wide_smooth(const View& view, const Chain& chain,
                                const std::vector<float>& weights, const Block& block,
                                Trusted& result) {
    smooth(view, chain, weights, block, result);
}
#else
constexpr auto wide_fit = plain_fit;
constexpr auto wide_smooth = plain_smooth;
#endif

bool any_surface(const float* lifts) {
    int any = 0;
    for (int i = 0; i < block_px; ++i) any |= lifts[i] > 0.0F;
    return any != 0;
}

// The results of all blocks; 0 where nothing is.
struct TrustedMap {
    std::vector<float> sums;
    std::vector<float> trusts;
};

// Calls work(x, y, result) for every block of pixels that shows some surface.
template <typename Work>
TrustedMap for_blocks(const SurfaceMaps& maps, const PaddedPlane& lift, const Work& work) {
    const std::size_t size = static_cast<std::size_t>(maps.width) * maps.height;
    TrustedMap map{std::vector<float>(size), std::vector<float>(size)};
    for_row_bands(maps.height, [&](int first, int end) {
        Trusted result;
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < maps.width; x += block_px) {
                if (!any_surface(lift.at(x, y))) continue;
                work(x, y, result);
                const int count = std::min(block_px, maps.width - x);
                const std::ptrdiff_t to = static_cast<std::ptrdiff_t>(y) * maps.width + x;
                std::copy_n(result.sum, count, map.sums.begin() + to);
                std::copy_n(result.trust, count, map.trusts.begin() + to);
            }
        }
    });
    return map;
}

Block block_at(const View& view, const SurfacePlanes& planes, int x, int y) {
    Block block{
        planes.lift.at(x, y), planes.nx.at(x, y), planes.ny.at(x, y), planes.nz.at(x, y), {}, {}};
    for (int i = 0; i < block_px; ++i) {
        const glm::vec2 lean = view.lean_at(x + i, y);
        block.lean_x[i] = lean.x;
        block.lean_y[i] = lean.y;
    }
    return block;
}

TrustedMap fit_all(const View& view, const SurfaceMaps& maps, const SurfacePlanes& planes) {
    const auto fit_block = has_wide_kernels() ? wide_fit : plain_fit;
    return for_blocks(maps, planes.lift, [&](int x, int y, Trusted& result) {
        fit_block(view, planes.lift.row_step(), block_at(view, planes, x, y), result);
    });
}

// The Gaussian mean along rows (stride, 0) or columns (0, stride).
TrustedMap smooth_along(const View& view, const SurfaceMaps& maps, const SurfacePlanes& planes,
                        const std::vector<float>& weights, glm::ivec2 along,
                        const TrustedMap& from) {
    const auto smooth_block = has_wide_kernels() ? wide_smooth : plain_smooth;
    const int reach_px = std::max(along.x, along.y) * static_cast<int>(weights.size());
    const auto padded = [&](const std::vector<float>& values) {
        return plane_of(maps, reach_px, [&](int x, int y) {
            return values[static_cast<std::size_t>(y) * maps.width + x];
        });
    };
    const PaddedPlane sums = padded(from.sums);
    const PaddedPlane trusts = padded(from.trusts);
    const Neighbour next{along.y * sums.row_step() + along.x,
                         static_cast<float>(along.x) * view.mm_per_px,
                         static_cast<float>(-along.y) * view.mm_per_px};
    return for_blocks(maps, planes.lift, [&](int x, int y, Trusted& result) {
        smooth_block(view, {sums.at(x, y), trusts.at(x, y), next}, weights,
                     block_at(view, planes, x, y), result);
    });
}

std::vector<float> means_of(const TrustedMap& map) {
    std::vector<float> means(map.sums.size(), 0.0F);
    for (std::size_t i = 0; i < means.size(); ++i) {
        if (map.trusts[i] > least_trust) means[i] = map.sums[i] / map.trusts[i];
    }
    return means;
}

}  // namespace

std::vector<float> half_gaussian(double scale_px, double deviations) {
    std::vector<float> weights;
    for (int k = 0; k == 0 || (k <= deviations * scale_px && weights.size() < max_weights); ++k) {
        weights.push_back(static_cast<float>(std::exp(-0.5 * k * k / (scale_px * scale_px))));
    }
    return weights;
}

std::vector<SmoothingLevel> smoothing_levels(double scale_px) {
    constexpr double most_at_once_px = 8.0;
    constexpr double run = 2.6;       // standard deviation of a run, in strides: 4 * 0.65
    constexpr double last_run = 4.0;  // at most: what is left for one more is then no mere sliver
    std::vector<SmoothingLevel> levels;
    double left = scale_px * scale_px;  // variance
    for (int stride = 1;; stride *= 4) {
        const bool last = left <= (stride == 1 ? most_at_once_px * most_at_once_px
                                               : last_run * last_run * stride * stride);
        const double variance = last ? left : run * run * stride * stride;
        // In several runs, what each cuts off would add up.
        const double deviations = last && stride == 1 ? 3.0 : 3.5;
        levels.push_back({stride, half_gaussian(std::sqrt(variance) / stride, deviations)});
        if (last) break;
        left -= variance;
    }
    std::erase_if(levels, [](const SmoothingLevel& level) { return level.weights.size() < 2; });
    return levels;
}

int curvature_reach_px(double scale_px) {
    int reach = 1;
    for (const auto& level : smoothing_levels(scale_px)) {
        reach += level.stride_px * static_cast<int>(level.weights.size() - 1);
    }
    return reach;
}

std::vector<float> curvature_on_processor(double scale_mm, const Camera& camera,
                                          const ImageGrid& grid, const WorkArea& area,
                                          const SurfaceMaps& maps,
                                          const std::vector<std::uint8_t>& mixed) {
    View view = make_view(camera, grid, area);
    view.first_row = maps.first_row;
    const double scale_px = scale_mm * grid.px_per_mm;
    const SurfacePlanes planes = make_planes(maps, mixed, curvature_reach_px(scale_px));
    TrustedMap map = fit_all(view, maps, planes);
    for (const auto& level : smoothing_levels(scale_px)) {
        map = smooth_along(view, maps, planes, level.weights, {level.stride_px, 0}, map);
        map = smooth_along(view, maps, planes, level.weights, {0, level.stride_px}, map);
    }
    return means_of(map);
}

}  // namespace rakelight
