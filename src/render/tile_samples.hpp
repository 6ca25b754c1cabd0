#pragma once
// Private to render/: the samples of one tile, and what the raster on the processor does with them.
//
// A visibility buffer: the raster keeps the nearest triangle of every sample; what the surface is
// there is worked out once, when a tile is done. A tile fits a core's own cache.

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "render/surface_rows.hpp"
#include "render/triangle_bins.hpp"

namespace rakelight {

/// Samples are handled so many at a time; a pixel's are padded to a multiple.
inline constexpr int lane_group = 8;
/// Pixels of a tile with its guard, a side.
inline constexpr int guarded_px = tile_px + 2 * tile_guard_px;

/// Where a pixel's samples lie: lane l at column l % samples and row l / samples, for l below
/// samples * samples.
struct Lanes {
    explicit Lanes(int samples);
    int samples;
    int count;                            ///< of lanes, padding included
    std::vector<std::int32_t> x, y;       ///< column and row, 0 in the padding
    std::vector<std::int32_t> is_sample;  ///< all bits set, or none in the padding
};

/// What is needed of a triangle to tell the normal at a sample: at the sample (x, y) of the tile it
/// is normal + per_x (x - at_x) + per_y (y - at_y), of any length, turned as the triangle faces.
struct Shade {
    float normal[3];
    float per_x[3];
    float per_y[3];
    float at_x;
    float at_y;
    TriangleRef ref;
    std::int32_t detail = -1;  ///< number in TileSamples::details, if it has any
};

/// A value at a triangle's first corner and how it changes per sample.
struct LinearValue {
    double at = 0.0;
    double per_x = 0.0;
    double per_y = 0.0;
};

/// What is needed of a triangle with pictures besides. In double: a place far beyond the tile is
/// told to a fraction of a texel.
struct DetailShade {
    const DetailMaterial* material = nullptr;
    std::array<const DetailCorner*, 3> corners{};  ///< turned as the raster turns them
    LinearValue s, t, w;                           ///< see DetailCorner
    std::array<LinearValue, 3> tangent;
    double at_x = 0.0;
    double at_y = 0.0;
    double side = 1.0;         ///< as DetailVertex::side
    double turn = 1.0;         ///< -1: seen from behind
    glm::dvec3 per_mm_s{0.0};  ///< gradients on the surface, view space
    glm::dvec3 per_mm_t{0.0};
};

/// A triangle's pictures; what is linear over the picture is left to the raster.
DetailShade detail_of(const SampleMesh& mesh, const std::array<const SampleVertex*, 3>& corners,
                      TriangleRef ref, const DetailMaterial& material);

/// Whether there is no surface at a sample of the tile. The material must have a mask.
bool is_cut_out(const DetailShade& detail, double x, double y);

/// What detail makes of a sample.
struct DetailSums {
    glm::dvec3 normal;      ///< unit, facing the viewer
    double shift_mm = 0.0;  ///< of the lift, at this place of the picture
};

/// @param lean  of the view ray, as in Rays of the resolve; 0 in a parallel projection
DetailSums detail_at(const Shade& shade, const DetailShade& detail, double x, double y,
                     glm::dvec2 lean);

/// One thread's tile. Pixels row by row with the guard, a pixel's lanes together.
struct TileSamples {
    explicit TileSamples(const Lanes& lanes);
    std::vector<float> nearness;       ///< of the nearest surface; 0: nothing. Lifts when resolved
    std::vector<std::uint32_t> shade;  ///< its number in shades, plus one; 0: nothing
    std::vector<float> floors;         ///< a pixel: its farthest sample once the fronts are drawn
    std::vector<Shade> shades;
    std::vector<DetailShade> details;
    std::vector<float> low_mm;   ///< a pixel: lowest covered lift, negative if partly covered
    std::vector<float> high_mm;  ///< a pixel: highest lift; 0: nothing
};

/// Which tile: its own first pixel in the work area.
struct TilePlace {
    int x_px;
    int y_px;
};

/// Puts triangles on the tile's samples.
void raster_tile(const SampleMesh& mesh, const TileTriangles& triangles, TilePlace place,
                 const Lanes& lanes, TileSamples& tile);

/// Rows of pixels of a tile with its guard: [first, end).
struct PixelBand {
    int first;
    int end;
};

/// Where a sample's line of sight crosses a triangle.
struct Crossing {
    std::uint32_t sample;  ///< pixel of the band's own columns, row by row, times lanes, plus lane
    std::uint32_t triangle;  ///< its place in the tile's list
    float nearness;
    bool front;  ///< it faces the viewer
};

/// Adds all crossings of a tile's own pixels in some rows, triangle by triangle.
void collect_crossings(const SampleMesh& mesh, std::span<const TriangleRef> triangles,
                       TilePlace place, PixelBand band, const Lanes& lanes,
                       std::vector<Crossing>& crossings);

/// What resolving needs to know of a picture.
struct ResolveSetting {
    double first_x_mm = 0.0;  ///< on the blank from the view axis: the work area's corner
    double first_y_mm = 0.0;
    double mm_per_px = 1.0;
    std::vector<std::uint32_t> mask_parts;
    bool contour = false;
    float contour_step_mm = 0.0F;
    std::optional<double> undercut_least_mm;
    std::optional<double> steep_slope;
};

/// From samples to pixels: the tile's own ones are written to rows, as far as rows has them.
void resolve_tile(const SampleMesh& mesh, const ResolveSetting& setting, TilePlace place,
                  const Lanes& lanes, TileSamples& tile, SurfaceRows& rows);

/// The contour of a resolved tile.
void trace_tile(const ResolveSetting& setting, TilePlace place, const Lanes& lanes,
                const TileSamples& tile, SurfaceRows& rows);

/// Where a resolved tile is steep.
void measure_steep(const SampleMesh& mesh, const ResolveSetting& setting, TilePlace place,
                   const Lanes& lanes, const TileSamples& tile, SurfaceRows& rows);

/// What lies behind the first surface of a tile's pixels, by all of its triangles.
void measure_undercut(const SampleMesh& mesh, std::span<const TriangleRef> triangles,
                      const ResolveSetting& setting, TilePlace place, const Lanes& lanes,
                      SurfaceRows& rows);

}  // namespace rakelight
