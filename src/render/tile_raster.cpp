// Triangles to samples. Coverage is decided in whole numbers, so that two triangles with a common
// edge leave no sample between them and share none; the height is that of the triangle's plane at
// the very sample.

#include <algorithm>
#include <cmath>

#include "render/processor_kernel.hpp"
#include "render/tile_samples.hpp"

namespace rakelight {
namespace {

constexpr int most_lanes = 64;  // 8 samples an axis, the most that a scene may ask for
constexpr int sub_bits = 10;
static_assert(sub_samples == 1 << sub_bits);

// Above this size the edges of a triangle are worked out in 64 bits.
constexpr std::int64_t most_small = std::int64_t{1} << 21;

// A corner from the tile's first sample, in sub-samples.
struct Point {
    std::int64_t x;
    std::int64_t y;
};

// A triangle on the tile: three edge functions that are at least 0 inside, in whole samples; and
// the plane of its nearness.
template <typename Int>
struct Setup {
    Int origin[3];  // at the tile's first sample
    Int per_x[3];
    Int per_y[3];
    Int corner[3];  // from a pixel's first sample to its best one
    float nearness;
    float per_x_near;
    float per_y_near;
    float at_x;
    float at_y;
    float least;
    float most;
    int first_px, end_px, first_py, end_py;
};

struct Triangle {
    const SampleVertex* corners[3];  // so that the area is positive
    Point points[3];
    std::int64_t area;
    bool front;
};

// False when no sample can lie inside.
bool read_triangle(const SampleMesh& mesh, TriangleRef ref, Point origin, Triangle& t) {
    const auto corners = mesh.corners(ref);
    for (std::size_t k = 0; k < 3; ++k) {
        t.corners[k] = corners[k];
        t.points[k] = {corners[k]->x - origin.x, corners[k]->y - origin.y};
    }
    const auto& p = t.points;
    t.area = (p[1].x - p[0].x) * (p[2].y - p[0].y) - (p[2].x - p[0].x) * (p[1].y - p[0].y);
    if (t.area == 0) return false;
    t.front = t.area < 0;  // rows run downwards, which mirrors every triangle
    if (t.area < 0) {
        std::swap(t.corners[1], t.corners[2]);
        std::swap(t.points[1], t.points[2]);
        t.area = -t.area;
    }
    return true;
}

// How an attribute changes per sample.
struct Slope {
    double per_x;
    double per_y;
};

Slope slope_of(const Triangle& t, double a, double b, double c) {
    const auto& p = t.points;
    const double per = sub_samples / static_cast<double>(t.area);
    const double ab = b - a;
    const double ac = c - a;
    const auto side = [](std::int64_t to, std::int64_t from) {
        return static_cast<double>(to - from);
    };
    return {(ab * side(p[2].y, p[0].y) - ac * side(p[1].y, p[0].y)) * per,
            (ac * side(p[1].x, p[0].x) - ab * side(p[2].x, p[0].x)) * per};
}

// The pixels, of one side of the guarded tile, that hold a sample of [low, high].
void pixel_range(std::int64_t low, std::int64_t high, int samples, int& first, int& end) {
    const std::int64_t most = std::int64_t{guarded_px} * samples;
    const std::int64_t first_sample =
        std::clamp((low + sub_samples - 1) >> sub_bits, std::int64_t{0}, most);
    const std::int64_t end_sample = std::clamp((high >> sub_bits) + 1, std::int64_t{0}, most);
    first = static_cast<int>(first_sample) / samples;
    end = (static_cast<int>(end_sample) + samples - 1) / samples;
    if (end_sample <= first_sample) end = first;
}

template <typename Int>
Int whole_samples(std::int64_t edge) {
    // What a sample adds is a whole multiple of sub_samples, so that the rest never matters. Beyond
    // the limits a tile is all inside or all outside.
    constexpr std::int64_t limit = std::int64_t{1} << (sizeof(Int) == 4 ? 30 : 60);
    return static_cast<Int>(std::clamp(edge >> sub_bits, -limit, limit));
}

template <typename Int>
Setup<Int> set_up(const Triangle& t, int samples) {
    Setup<Int> s;
    const auto& p = t.points;
    for (int k = 0; k < 3; ++k) {
        const Point& a = p[k];
        const Point& b = p[(k + 1) % 3];
        const std::int64_t per_x = a.y - b.y;
        const std::int64_t per_y = b.x - a.x;
        // A sample on an edge belongs to one of its two triangles.
        const bool owns = per_x > 0 || (per_x == 0 && per_y > 0);
        s.origin[k] = whole_samples<Int>(-per_x * a.x - per_y * a.y - (owns ? 0 : 1));
        s.per_x[k] = static_cast<Int>(per_x);
        s.per_y[k] = static_cast<Int>(per_y);
        s.corner[k] = (std::max(s.per_x[k], Int{0}) + std::max(s.per_y[k], Int{0})) * (samples - 1);
    }
    const float near[3] = {t.corners[0]->nearness, t.corners[1]->nearness, t.corners[2]->nearness};
    const Slope slope = slope_of(t, near[0], near[1], near[2]);
    s.nearness = near[0];
    s.per_x_near = static_cast<float>(slope.per_x);
    s.per_y_near = static_cast<float>(slope.per_y);
    s.at_x = static_cast<float>(p[0].x) / sub_samples;
    s.at_y = static_cast<float>(p[0].y) / sub_samples;
    s.least = std::min({near[0], near[1], near[2]});
    s.most = std::max({near[0], near[1], near[2]});
    pixel_range(std::min({p[0].x, p[1].x, p[2].x}), std::max({p[0].x, p[1].x, p[2].x}), samples,
                s.first_px, s.end_px);
    pixel_range(std::min({p[0].y, p[1].y, p[2].y}), std::max({p[0].y, p[1].y, p[2].y}), samples,
                s.first_py, s.end_py);
    return s;
}

// Edge and plane at each lane of a pixel, from its first sample.
template <typename Int>
struct LaneSteps {
    Int edge[3][most_lanes];
    float nearness[most_lanes];
};

template <typename Int>
RAKELIGHT_KERNEL void step_lanes(const Setup<Int>& s, const Lanes& lanes, LaneSteps<Int>& steps) {
    const std::int32_t* x = lanes.x.data();
    const std::int32_t* y = lanes.y.data();
    for (int g = 0; g < lanes.count; g += lane_group) {
        for (int k = 0; k < 3; ++k) {
            for (int l = g; l < g + lane_group; ++l) {
                steps.edge[k][l] = s.per_x[k] * x[l] + s.per_y[k] * y[l];
            }
        }
        for (int l = g; l < g + lane_group; ++l) {
            steps.nearness[l] =
                s.per_x_near * static_cast<float>(x[l]) + s.per_y_near * static_cast<float>(y[l]);
        }
    }
}

// The triangle at the first sample of a pixel.
template <typename Int>
struct TouchedPixel {
    Int edge[3];
    float nearness;
};

// Whether any sample of the pixel that begins at sample (x, y) may lie in the triangle.
template <typename Int>
RAKELIGHT_KERNEL bool touch_pixel(const Setup<Int>& s, int x, int y, TouchedPixel<Int>& pixel) {
    for (int k = 0; k < 3; ++k) pixel.edge[k] = s.origin[k] + s.per_x[k] * x + s.per_y[k] * y;
    if (((pixel.edge[0] + s.corner[0]) | (pixel.edge[1] + s.corner[1]) |
         (pixel.edge[2] + s.corner[2])) < 0) {
        return false;
    }
    pixel.nearness = s.nearness + s.per_x_near * (static_cast<float>(x) - s.at_x) +
                     s.per_y_near * (static_cast<float>(y) - s.at_y);
    return true;
}

// What eight samples of a pixel see of the triangle.
// @param seen  bits are set in the lane of a sample that sees it
template <typename Int>
RAKELIGHT_KERNEL void cover_group(const Int (&edge)[3], float nearness, const Setup<Int>& s,
                                  const LaneSteps<Int>& steps, const std::int32_t* is_sample, int g,
                                  std::uint32_t shade, float* nearest, std::uint32_t* shades,
                                  std::int32_t (&seen)[lane_group]) {
    // Of its own, so that the compiler sees that nothing else lies there.
    std::int32_t taken[lane_group];
    for (int l = 0; l < lane_group; ++l) {
        const Int outside = (edge[0] + steps.edge[0][g + l]) | (edge[1] + steps.edge[1][g + l]) |
                            (edge[2] + steps.edge[2][g + l]);
        float at = nearness + steps.nearness[g + l];
        at = at > s.least ? at : s.least;
        at = at < s.most ? at : s.most;
        const bool nearer = at > nearest[l];
        const std::int32_t take = (outside >= 0 ? -1 : 0) & (nearer ? -1 : 0) & is_sample[g + l];
        nearest[l] = take != 0 ? at : nearest[l];
        shades[l] = take != 0 ? shade : shades[l];
        taken[l] = take;
    }
    for (int l = 0; l < lane_group; ++l) seen[l] |= taken[l];
}

// Puts a triangle on the tile's samples. Returns whether any sees it.
template <typename Int>
RAKELIGHT_KERNEL bool cover(const Setup<Int>& s, const Lanes& lanes, std::uint32_t shade,
                            TileSamples& tile) {
    LaneSteps<Int> steps;
    step_lanes(s, lanes, steps);
    std::int32_t seen[lane_group] = {};
    for (int py = s.first_py; py < s.end_py; ++py) {
        for (int px = s.first_px; px < s.end_px; ++px) {
            TouchedPixel<Int> pixel;
            if (!touch_pixel(s, px * lanes.samples, py * lanes.samples, pixel)) continue;
            const std::size_t at = static_cast<std::size_t>(py * guarded_px + px) * lanes.count;
            for (int g = 0; g < lanes.count; g += lane_group) {
                cover_group(pixel.edge, pixel.nearness, s, steps, lanes.is_sample.data(), g, shade,
                            tile.nearness.data() + at + g, tile.shade.data() + at + g, seen);
            }
        }
    }
    std::int32_t any = 0;
    for (const std::int32_t lane : seen) any |= lane;
    return any != 0;
}

Shade shade_of(const Triangle& t, TriangleRef ref) {
    Shade shade;
    const double turn = t.front ? 1.0 : -1.0;
    for (std::size_t k = 0; k < 3; ++k) {
        const double a = turn * t.corners[0]->normal[k];
        const Slope slope =
            slope_of(t, a, turn * t.corners[1]->normal[k], turn * t.corners[2]->normal[k]);
        shade.normal[k] = static_cast<float>(a);
        shade.per_x[k] = static_cast<float>(slope.per_x);
        shade.per_y[k] = static_cast<float>(slope.per_y);
    }
    shade.at_x = static_cast<float>(t.points[0].x) / sub_samples;
    shade.at_y = static_cast<float>(t.points[0].y) / sub_samples;
    shade.ref = ref;
    return shade;
}

// Pictures of a triangle, if it has any.
const DetailMaterial* material_of(const SampleMesh& mesh, TriangleRef ref) {
    return mesh.detail() == nullptr ? nullptr : mesh.detail()->of_part(mesh.part(ref));
}

DetailShade detail_shade(const SampleMesh& mesh, const Triangle& t, TriangleRef ref,
                         const DetailMaterial& material) {
    DetailShade d = detail_of(mesh, {t.corners[0], t.corners[1], t.corners[2]}, ref, material);
    const auto linear = [&](const auto& value) {
        const double a = value(*d.corners[0]);
        const Slope slope = slope_of(t, a, value(*d.corners[1]), value(*d.corners[2]));
        return LinearValue{a, slope.per_x, slope.per_y};
    };
    d.s = linear([](const DetailCorner& c) { return c.s; });
    d.t = linear([](const DetailCorner& c) { return c.t; });
    d.w = linear([](const DetailCorner& c) { return c.w; });
    for (int k = 0; k < 3; ++k)
        d.tangent[static_cast<std::size_t>(k)] =
            linear([&](const DetailCorner& c) { return c.tangent[k]; });
    d.at_x = static_cast<double>(t.points[0].x) / sub_samples;
    d.at_y = static_cast<double>(t.points[0].y) / sub_samples;
    d.turn = t.front ? 1.0 : -1.0;
    return d;
}

// As cover, of a triangle with holes: its mask is asked at each sample that it would be seen at.
bool cover_masked(const Setup<std::int64_t>& s, const DetailShade& detail, const Lanes& lanes,
                  std::uint32_t shade, TileSamples& tile) {
    LaneSteps<std::int64_t> steps;
    step_lanes(s, lanes, steps);
    bool seen = false;
    for (int py = s.first_py; py < s.end_py; ++py) {
        for (int px = s.first_px; px < s.end_px; ++px) {
            const int x = px * lanes.samples;
            const int y = py * lanes.samples;
            TouchedPixel<std::int64_t> pixel;
            if (!touch_pixel(s, x, y, pixel)) continue;
            const std::size_t at = static_cast<std::size_t>(py * guarded_px + px) * lanes.count;
            for (int l = 0; l < lanes.samples * lanes.samples; ++l) {
                const std::int64_t outside = (pixel.edge[0] + steps.edge[0][l]) |
                                             (pixel.edge[1] + steps.edge[1][l]) |
                                             (pixel.edge[2] + steps.edge[2][l]);
                const float near = std::clamp(pixel.nearness + steps.nearness[l], s.least, s.most);
                const auto i = static_cast<std::size_t>(l);
                if (outside < 0 || near <= tile.nearness[at + i]) continue;
                if (is_cut_out(detail, x + lanes.x[i], y + lanes.y[i])) continue;
                tile.nearness[at + i] = near;
                tile.shade[at + i] = shade;
                seen = true;
            }
        }
    }
    return seen;
}

// A triangle that has pictures.
void cover_detailed(const SampleMesh& mesh, const Triangle& t, TriangleRef ref,
                    const DetailMaterial& material, bool seen, const Lanes& lanes,
                    TileSamples& tile) {
    const DetailShade detail = detail_shade(mesh, t, ref, material);
    const auto number = static_cast<std::uint32_t>(tile.shades.size()) + 1;
    if (material.mask)
        seen = cover_masked(set_up<std::int64_t>(t, lanes.samples), detail, lanes, number, tile);
    if (!seen) return;
    tile.shades.push_back(shade_of(t, ref));
    tile.shades.back().detail = static_cast<std::int32_t>(tile.details.size());
    tile.details.push_back(detail);
}

bool is_small(const Triangle& t) {
    const auto& p = t.points;
    const auto [left, right] = std::minmax({p[0].x, p[1].x, p[2].x});
    const auto [top, bottom] = std::minmax({p[0].y, p[1].y, p[2].y});
    return right - left < most_small && bottom - top < most_small;
}

// The farthest sample of each pixel as it stands; 0 where one has nothing yet. Returns the farthest
// of all.
RAKELIGHT_KERNEL float find_floors(const Lanes& lanes, TileSamples& tile) {
    const float* nearness = tile.nearness.data();
    const auto samples = static_cast<std::size_t>(lanes.samples * lanes.samples);
    for (float& floor : tile.floors) {
        floor = nearness[0];
        for (std::size_t l = 1; l < samples; ++l) floor = std::min(floor, nearness[l]);
        nearness += lanes.count;
    }
    return *std::min_element(tile.floors.begin(), tile.floors.end());
}

// Whether all samples that a triangle may touch are nearer than all of it, or as near.
bool is_behind(const Triangle& t, int samples, const TileSamples& tile) {
    const auto& p = t.points;
    int first_px, end_px, first_py, end_py;
    pixel_range(std::min({p[0].x, p[1].x, p[2].x}), std::max({p[0].x, p[1].x, p[2].x}), samples,
                first_px, end_px);
    pixel_range(std::min({p[0].y, p[1].y, p[2].y}), std::max({p[0].y, p[1].y, p[2].y}), samples,
                first_py, end_py);
    const float nearest =
        std::max({t.corners[0]->nearness, t.corners[1]->nearness, t.corners[2]->nearness});
    for (int py = first_py; py < end_py; ++py) {
        for (int px = first_px; px < end_px; ++px)
            if (tile.floors[static_cast<std::size_t>(py * guarded_px + px)] < nearest) return false;
    }
    return true;
}

// Puts one triangle on the tile.
RAKELIGHT_KERNEL void cover_triangle(const SampleMesh& mesh, const Triangle& t, TriangleRef ref,
                                     const Lanes& lanes, TileSamples& tile) {
    const auto number = static_cast<std::uint32_t>(tile.shades.size()) + 1;
    const DetailMaterial* material = material_of(mesh, ref);
    if (material != nullptr && material->mask) {
        cover_detailed(mesh, t, ref, *material, false, lanes, tile);
        return;
    }
    const bool seen = is_small(t)
                          ? cover(set_up<std::int32_t>(t, lanes.samples), lanes, number, tile)
                          : cover(set_up<std::int64_t>(t, lanes.samples), lanes, number, tile);
    if (!seen) return;
    if (material != nullptr)
        cover_detailed(mesh, t, ref, *material, true, lanes, tile);
    else
        tile.shades.push_back(shade_of(t, ref));
}

// Of a closed mesh all backs lie behind its fronts: most are refused by the run, unread, and most
// others without a look at samples.
RAKELIGHT_KERNEL void cover_all(const SampleMesh& mesh, const TileTriangles& triangles,
                                Point origin, const Lanes& lanes, TileSamples& tile) {
    Triangle t;
    std::size_t i = 0;
    for (; i < triangles.fronts; ++i)
        if (read_triangle(mesh, triangles.all[i], origin, t))
            cover_triangle(mesh, t, triangles.all[i], lanes, tile);
    if (i == triangles.all.size()) return;
    const float floor = find_floors(lanes, tile);
    for (const BackRun& run : triangles.runs) {
        for (; i < run.end && run.nearness > floor; ++i) {
            if (read_triangle(mesh, triangles.all[i], origin, t) &&
                !is_behind(t, lanes.samples, tile))
                cover_triangle(mesh, t, triangles.all[i], lanes, tile);
        }
        i = run.end;
    }
}

void plain_cover_all(const SampleMesh& mesh, const TileTriangles& triangles, Point origin,
                     const Lanes& lanes, TileSamples& tile) {
    cover_all(mesh, triangles, origin, lanes, tile);
}
#ifdef RAKELIGHT_HAS_WIDE_KERNELS
RAKELIGHT_WIDE void wide_cover_all(const SampleMesh& mesh, const TileTriangles& triangles,
                                   Point origin, const Lanes& lanes, TileSamples& tile) {
    cover_all(mesh, triangles, origin, lanes, tile);
}
#else
constexpr auto wide_cover_all = plain_cover_all;
#endif

// The samples of a tile's own pixels, within a band of rows, that a triangle covers: the same that
// cover() would give it if nothing were before it.
template <typename Int>
RAKELIGHT_KERNEL void cross(const Setup<Int>& s, const Lanes& lanes, PixelBand band,
                            Crossing crossing, std::vector<Crossing>& crossings) {
    LaneSteps<Int> steps;
    step_lanes(s, lanes, steps);
    const int end_px = std::min(s.end_px, tile_guard_px + tile_px);
    for (int py = std::max(s.first_py, band.first); py < std::min(s.end_py, band.end); ++py) {
        for (int px = std::max(s.first_px, tile_guard_px); px < end_px; ++px) {
            TouchedPixel<Int> pixel;
            if (!touch_pixel(s, px * lanes.samples, py * lanes.samples, pixel)) continue;
            const int number = (py - band.first) * tile_px + px - tile_guard_px;
            for (int l = 0; l < lanes.samples * lanes.samples; ++l) {
                if (((pixel.edge[0] + steps.edge[0][l]) | (pixel.edge[1] + steps.edge[1][l]) |
                     (pixel.edge[2] + steps.edge[2][l])) < 0) {
                    continue;
                }
                crossing.sample = static_cast<std::uint32_t>(number * lanes.count + l);
                crossing.nearness = std::clamp(pixel.nearness + steps.nearness[l], s.least, s.most);
                crossings.push_back(crossing);
            }
        }
    }
}

// Takes away those of a triangle's crossings, from the first on, that lie in its holes.
void drop_cut_out(const DetailShade& detail, const Lanes& lanes, PixelBand band, std::size_t first,
                  std::vector<Crossing>& crossings) {
    const auto is_hole = [&](const Crossing& crossing) {
        const auto sample = static_cast<int>(crossing.sample);
        const int pixel = sample / lanes.count;
        const auto l = static_cast<std::size_t>(sample % lanes.count);
        const int px = pixel % tile_px + tile_guard_px, py = pixel / tile_px + band.first;
        return is_cut_out(detail, px * lanes.samples + lanes.x[l], py * lanes.samples + lanes.y[l]);
    };
    const auto begin = crossings.begin() + static_cast<std::ptrdiff_t>(first);
    crossings.erase(std::remove_if(begin, crossings.end(), is_hole), crossings.end());
}

// Where the coordinates of a tile begin: the first sample of its guard.
Point tile_origin(TilePlace place, const Lanes& lanes) {
    const auto first = [&](int px) {
        return std::int64_t{px - tile_guard_px} * lanes.samples * sub_samples + sub_samples / 2;
    };
    return {first(place.x_px), first(place.y_px)};
}

}  // namespace

Lanes::Lanes(int samples_per_axis)
    : samples(samples_per_axis),
      count((samples * samples + lane_group - 1) / lane_group * lane_group),
      x(static_cast<std::size_t>(count)),
      y(x.size()),
      is_sample(x.size()) {
    for (int l = 0; l < samples * samples; ++l) {
        const auto i = static_cast<std::size_t>(l);
        x[i] = l % samples;
        y[i] = l / samples;
        is_sample[i] = -1;
    }
}

TileSamples::TileSamples(const Lanes& lanes)
    : nearness(static_cast<std::size_t>(guarded_px * guarded_px * lanes.count)),
      shade(nearness.size()),
      floors(static_cast<std::size_t>(guarded_px * guarded_px)),
      low_mm(static_cast<std::size_t>(guarded_px * guarded_px)),
      high_mm(low_mm.size()) {}

void raster_tile(const SampleMesh& mesh, const TileTriangles& triangles, TilePlace place,
                 const Lanes& lanes, TileSamples& tile) {
    std::fill(tile.nearness.begin(), tile.nearness.end(), 0.0F);
    std::fill(tile.shade.begin(), tile.shade.end(), 0U);
    tile.shades.clear();
    tile.details.clear();
    const auto work = has_wide_kernels() ? wide_cover_all : plain_cover_all;
    work(mesh, triangles, tile_origin(place, lanes), lanes, tile);
}

void collect_crossings(const SampleMesh& mesh, std::span<const TriangleRef> triangles,
                       TilePlace place, PixelBand band, const Lanes& lanes,
                       std::vector<Crossing>& crossings) {
    const Point origin = tile_origin(place, lanes);
    Triangle t;
    for (std::size_t i = 0; i < triangles.size(); ++i) {
        if (!read_triangle(mesh, triangles[i], origin, t)) continue;
        const Crossing crossing{0, static_cast<std::uint32_t>(i), 0.0F, t.front};
        const std::size_t first = crossings.size();
        if (is_small(t)) {
            cross(set_up<std::int32_t>(t, lanes.samples), lanes, band, crossing, crossings);
        } else {
            cross(set_up<std::int64_t>(t, lanes.samples), lanes, band, crossing, crossings);
        }
        const DetailMaterial* material = material_of(mesh, triangles[i]);
        if (material == nullptr || !material->mask || crossings.size() == first) continue;
        drop_cut_out(detail_shade(mesh, t, triangles[i], *material), lanes, band, first, crossings);
    }
}

}  // namespace rakelight
