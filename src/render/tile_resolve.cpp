// Samples to pixels: the mean of the covered ones alone, so that the background never bleeds in,
// and their share as coverage. What shaders/resolve.frag, part.frag and contour.frag do.

#include <algorithm>
#include <array>
#include <cmath>

#include "render/processor_kernel.hpp"
#include "render/tile_samples.hpp"

namespace rakelight {
namespace {

// Sums over a pixel's samples, a lane each.
struct Sums {
    float x[lane_group];
    float y[lane_group];
    float z[lane_group];
};

// How view rays lean, for a lane: from its place on the blank, over the eye's distance. All 0 in a
// parallel projection, where every ray is the axis.
struct Rays {
    float first_x = 0.0F;  // of the pixel's first sample
    float first_y = 0.0F;
    float per_x = 0.0F;
    float per_y = 0.0F;
};

// Adds the unit normals of the samples, of eight lanes, that see the triangle. An interpolated
// normal may turn away from the viewer at an outline; the surface seen does not.
template <bool perspective>
RAKELIGHT_KERNEL void add_normals(const Shade& shade, std::uint32_t number,
                                  const std::uint32_t* numbers, const Lanes& lanes, int g, float x,
                                  float y, const Rays& rays, Sums& sums) {
    const std::int32_t* lane_x = lanes.x.data() + g;
    const std::int32_t* lane_y = lanes.y.data() + g;
    for (int l = 0; l < lane_group; ++l) {
        const auto column = static_cast<float>(lane_x[l]);
        const auto row = static_cast<float>(lane_y[l]);
        const float dx = x + column - shade.at_x;
        const float dy = y + row - shade.at_y;
        float nx = shade.normal[0] + shade.per_x[0] * dx + shade.per_y[0] * dy;
        float ny = shade.normal[1] + shade.per_x[1] * dx + shade.per_y[1] * dy;
        float nz = shade.normal[2] + shade.per_x[2] * dx + shade.per_y[2] * dy;
        if constexpr (perspective) {
            const float vx = -(rays.first_x + rays.per_x * column);
            const float vy = -(rays.first_y + rays.per_y * row);
            const float away = nx * vx + ny * vy + nz;
            const float back = (away < 0.0F ? away : 0.0F) / (vx * vx + vy * vy + 1.0F);
            nx -= back * vx;
            ny -= back * vy;
            nz -= back;
        } else {
            nz = nz > 0.0F ? nz : 0.0F;
        }
        const float square = nx * nx + ny * ny + nz * nz;
        const float per = 1.0F / std::sqrt(square > 1e-30F ? square : 1e-30F);
        const float weight = numbers[l] == number ? per : 0.0F;
        sums.x[l] += nx * weight;
        sums.y[l] += ny * weight;
        sums.z[l] += nz * weight;
    }
}

// The same for a triangle with pictures, whose heights are added up too. Its lanes go one by one:
// each looks its texels up.
void add_detailed(const TileSamples& tile, std::uint32_t number, const std::uint32_t* numbers,
                  const Lanes& lanes, float x, float y, const Rays& rays, Sums& sums,
                  double& shift_mm) {
    const Shade& shade = tile.shades[number - 1];
    const DetailShade& detail = tile.details[static_cast<std::size_t>(shade.detail)];
    for (int l = 0; l < lanes.samples * lanes.samples; ++l) {
        if (numbers[l] != number) continue;
        const auto column = static_cast<double>(lanes.x[static_cast<std::size_t>(l)]);
        const auto row = static_cast<double>(lanes.y[static_cast<std::size_t>(l)]);
        const glm::dvec2 lean(rays.first_x + rays.per_x * column, rays.first_y + rays.per_y * row);
        const DetailSums found =
            detail_at(shade, detail, double{x} + column, double{y} + row, lean);
        sums.x[l % lane_group] += static_cast<float>(found.normal.x);
        sums.y[l % lane_group] += static_cast<float>(found.normal.y);
        sums.z[l % lane_group] += static_cast<float>(found.normal.z);
        shift_mm += found.shift_mm;
    }
}

float total(const float (&lanes)[lane_group]) {
    return ((lanes[0] + lanes[4]) + (lanes[2] + lanes[6])) +
           ((lanes[1] + lanes[5]) + (lanes[3] + lanes[7]));
}

// The different triangles among a pixel's samples.
struct Numbers {
    std::array<std::uint32_t, 64> list;
    int count = 0;
};

void list_numbers(const std::uint32_t* numbers, int lanes, Numbers& found) {
    found.count = 0;
    for (int l = 0; l < lanes; ++l) {
        const std::uint32_t number = numbers[l];
        if (number == 0) continue;
        int k = 0;
        while (k < found.count && found.list[static_cast<std::size_t>(k)] != number) ++k;
        if (k == found.count) found.list[static_cast<std::size_t>(found.count++)] = number;
    }
}

RAKELIGHT_KERNEL bool all_equal(const std::uint32_t* numbers, int count) {
    std::uint32_t differ = 0;
    for (int l = 0; l < count; ++l) differ |= numbers[l] ^ numbers[0];
    return differ == 0;
}

struct Heights {
    float mean;
    int covered;
};

RAKELIGHT_KERNEL Heights measure(const float* lifts, int lanes) {
    float sums[lane_group] = {};
    std::int32_t counts[lane_group] = {};
    for (int g = 0; g < lanes; g += lane_group) {
        for (int l = 0; l < lane_group; ++l) {
            sums[l] += lifts[g + l];
            counts[l] += lifts[g + l] > 0.0F ? 1 : 0;
        }
    }
    int covered = 0;
    for (const int count : counts) covered += count;
    return {covered > 0 ? total(sums) / static_cast<float>(covered) : 0.0F, covered};
}

// Lowest and highest covered sample of every pixel, guard included.
RAKELIGHT_KERNEL void range_pixels(const Lanes& lanes, TileSamples& tile) {
    const int all = lanes.samples * lanes.samples;
    for (std::size_t pixel = 0; pixel < tile.low_mm.size(); ++pixel) {
        const float* lifts = tile.nearness.data() + pixel * static_cast<std::size_t>(lanes.count);
        float low[lane_group];
        float high[lane_group];
        std::int32_t counts[lane_group];
        for (int l = 0; l < lane_group; ++l) low[l] = 1e30F;
        for (int l = 0; l < lane_group; ++l) high[l] = 0.0F;
        for (int l = 0; l < lane_group; ++l) counts[l] = 0;
        for (int g = 0; g < lanes.count; g += lane_group) {
            for (int l = 0; l < lane_group; ++l) {
                const float lift = lifts[g + l];
                const float shown = lift > 0.0F ? lift : 1e30F;
                low[l] = shown < low[l] ? shown : low[l];
                high[l] = lift > high[l] ? lift : high[l];
                counts[l] += lift > 0.0F ? 1 : 0;
            }
        }
        float lowest = low[0];
        float highest = high[0];
        int covered = 0;
        for (int l = 0; l < lane_group; ++l) {
            lowest = std::min(lowest, low[l]);
            highest = std::max(highest, high[l]);
            covered += counts[l];
        }
        tile.low_mm[pixel] = covered == 0 ? 0.0F : covered == all ? lowest : -lowest;
        tile.high_mm[pixel] = highest;
    }
}

RAKELIGHT_KERNEL void lifts_from_nearness(const SampleMesh& mesh, TileSamples& tile) {
    const float eye_lift = mesh.eye_lift_mm();
    float* values = tile.nearness.data();
    const std::size_t count = tile.nearness.size();
    for (std::size_t i = 0; i < count; ++i) {
        values[i] = eye_lift * values[i] / (1.0F + values[i]);
    }
}

struct PixelAt {
    int px;  // in the guarded tile
    int py;
    std::size_t lane;  // its first
};

template <bool perspective>
RAKELIGHT_KERNEL void write_normal(const TileSamples& tile, const Lanes& lanes, PixelAt at,
                                   const Rays& rays, float* to, double& shift_mm) {
    const std::uint32_t* numbers = tile.shade.data() + at.lane;
    const auto x = static_cast<float>(at.px * lanes.samples);
    const auto y = static_cast<float>(at.py * lanes.samples);
    Numbers found;
    found.count = 1;
    found.list[0] = numbers[0];
    if (!all_equal(numbers, lanes.count)) list_numbers(numbers, lanes.count, found);
    Sums sums;
    for (int l = 0; l < lane_group; ++l) sums.x[l] = sums.y[l] = sums.z[l] = 0.0F;
    for (int k = 0; k < found.count; ++k) {
        const std::uint32_t number = found.list[static_cast<std::size_t>(k)];
        // Nothing at the pixel's first samples: no triangle has number 0, and none of it counts.
        if (number != 0 && tile.shades[number - 1].detail >= 0) {
            add_detailed(tile, number, numbers, lanes, x, y, rays, sums, shift_mm);
            continue;
        }
        for (int g = 0; g < lanes.count; g += lane_group) {
            add_normals<perspective>(tile.shades[number - 1], number, numbers + g, lanes, g, x, y,
                                     rays, sums);
        }
    }
    const float nx = total(sums.x);
    const float ny = total(sums.y);
    const float nz = total(sums.z);
    const float length = std::sqrt(nx * nx + ny * ny + nz * nz);
    const bool sound = length > 1e-12F;
    to[0] = sound ? nx / length : 0.0F;
    to[1] = sound ? ny / length : 0.0F;
    to[2] = sound ? nz / length : 1.0F;
}

// Masks, and what the parts' own samples are high: the mean of these alone.
void write_masks(const SampleMesh& mesh, const ResolveSetting& setting, const TileSamples& tile,
                 const Lanes& lanes, PixelAt at, std::size_t to, SurfaceRows& rows) {
    const std::uint32_t* numbers = tile.shade.data() + at.lane;
    const float* lifts = tile.nearness.data() + at.lane;
    const auto samples = static_cast<float>(lanes.samples * lanes.samples);
    Numbers found;
    list_numbers(numbers, lanes.count, found);
    for (int k = 0; k < found.count; ++k) {
        const std::uint32_t number = found.list[static_cast<std::size_t>(k)];
        const std::uint32_t part = mesh.part(tile.shades[number - 1].ref);
        const auto count = static_cast<float>(std::count(numbers, numbers + lanes.count, number));
        for (std::size_t m = 0; m < setting.mask_parts.size(); ++m) {
            if (setting.mask_parts[m] != part) continue;
            rows.masks[m][to] += count / samples;
            if (rows.mask_lifts_mm.empty()) continue;
            for (int l = 0; l < lanes.count; ++l) {
                if (numbers[l] == number) rows.mask_lifts_mm[m][to] += lifts[l];
            }
        }
    }
    for (std::size_t m = 0; m < rows.mask_lifts_mm.size(); ++m) {
        if (rows.masks[m][to] > 0.0F) rows.mask_lifts_mm[m][to] /= rows.masks[m][to] * samples;
    }
}

// Of the first sample that shows anything; there is one.
std::uint32_t first_part(const SampleMesh& mesh, const TileSamples& tile, const Lanes& lanes,
                         PixelAt at) {
    const std::uint32_t* numbers = tile.shade.data() + at.lane;
    const std::uint32_t number =
        *std::find_if(numbers, numbers + lanes.count - 1, [](std::uint32_t n) { return n != 0; });
    return mesh.part(tile.shades[number - 1].ref);
}

Rays rays_at(const ResolveSetting& setting, const Camera& camera, const Lanes& lanes, int x,
             int y) {
    if (camera.projection == Projection::parallel) return {};
    const double per_sample = setting.mm_per_px / lanes.samples;
    const double per_eye = 1.0 / camera.eye_mm;
    return {static_cast<float>((setting.first_x_mm + x * setting.mm_per_px + 0.5 * per_sample) *
                               per_eye),
            static_cast<float>((setting.first_y_mm - y * setting.mm_per_px - 0.5 * per_sample) *
                               per_eye),
            static_cast<float>(per_sample * per_eye), static_cast<float>(-per_sample * per_eye)};
}

template <bool perspective>
RAKELIGHT_KERNEL void resolve(const SampleMesh& mesh, const ResolveSetting& setting,
                              TilePlace place, const Lanes& lanes, TileSamples& tile,
                              SurfaceRows& rows) {
    if constexpr (perspective) lifts_from_nearness(mesh, tile);
    range_pixels(lanes, tile);
    const int width = std::min(tile_px, rows.width - place.x_px);
    const int height = std::min(tile_px, rows.first_row + rows.rows - place.y_px);
    const auto all = static_cast<float>(lanes.samples * lanes.samples);
    for (int j = 0; j < height; ++j) {
        for (int i = 0; i < width; ++i) {
            const int pixel = (j + tile_guard_px) * guarded_px + i + tile_guard_px;
            const PixelAt at{i + tile_guard_px, j + tile_guard_px,
                             static_cast<std::size_t>(pixel) * lanes.count};
            if (tile.high_mm[static_cast<std::size_t>(pixel)] <= 0.0F) continue;
            const std::size_t to = rows.index(place.x_px + i, place.y_px + j);
            const Heights heights = measure(tile.nearness.data() + at.lane, lanes.count);
            rows.lift_mm[to] = heights.mean;
            float* normal = rows.normal_coverage.data() + 4 * to;
            double shift_mm = 0.0;
            write_normal<perspective>(
                tile, lanes, at,
                rays_at(setting, mesh.camera(), lanes, place.x_px + i, place.y_px + j), normal,
                shift_mm);
            if (!rows.detail_mm.empty())
                rows.detail_mm[to] = static_cast<float>(shift_mm / heights.covered);
            normal[3] = static_cast<float>(heights.covered) / all;
            rows.lift_range_mm[2 * to] = tile.low_mm[static_cast<std::size_t>(pixel)];
            rows.lift_range_mm[2 * to + 1] = tile.high_mm[static_cast<std::size_t>(pixel)];
            if (!setting.mask_parts.empty()) {
                write_masks(mesh, setting, tile, lanes, at, to, rows);
            }
            if (!rows.part_numbers.empty()) {
                rows.part_numbers[to] = first_part(mesh, tile, lanes, at) + 1;
            }
        }
    }
}

void plain_resolve(const SampleMesh& mesh, const ResolveSetting& setting, TilePlace place,
                   const Lanes& lanes, TileSamples& tile, SurfaceRows& rows) {
    mesh.perspective() ? resolve<true>(mesh, setting, place, lanes, tile, rows)
                       : resolve<false>(mesh, setting, place, lanes, tile, rows);
}
#ifdef RAKELIGHT_HAS_WIDE_KERNELS
RAKELIGHT_WIDE void wide_resolve(const SampleMesh& mesh, const ResolveSetting& setting,
                                 TilePlace place, const Lanes& lanes, TileSamples& tile,
                                 SurfaceRows& rows) {
    mesh.perspective() ? resolve<true>(mesh, setting, place, lanes, tile, rows)
                       : resolve<false>(mesh, setting, place, lanes, tile, rows);
}
#else
constexpr auto wide_resolve = plain_resolve;
#endif

}  // namespace

void resolve_tile(const SampleMesh& mesh, const ResolveSetting& setting, TilePlace place,
                  const Lanes& lanes, TileSamples& tile, SurfaceRows& rows) {
    const auto work = has_wide_kernels() ? wide_resolve : plain_resolve;
    work(mesh, setting, place, lanes, tile, rows);
}

}  // namespace rakelight
