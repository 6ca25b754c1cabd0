#pragma once
// What an import takes, in bytes, for what it reads: measured, with some room;
// tests/cli/test_memory.cpp compares. Private to model/.

#include <algorithm>
#include <cstdint>

namespace rakelight {

struct SurfaceSize {
    std::uint64_t vertices = 0;
    std::uint64_t triangles = 0;
};

/// From loose triangles to a sound mesh, both included. A vertex pays for its place in the tables
/// of welding, for its share of the edges, and for the borders of loose triangles; a triangle for
/// its corners in the order of the file and in the new one.
constexpr std::uint64_t surface_bytes(const SurfaceSize& size, bool normals) {
    constexpr std::uint64_t a_vertex = 210, a_normal = 24, a_triangle = 12;
    constexpr std::uint64_t least_a_triangle = 60;  // of few vertices
    return std::max(a_vertex * size.vertices + a_triangle * size.triangles,
                    least_a_triangle * size.triangles) +
           (normals ? a_normal * size.vertices : 0);
}

/// What an import's process may have beside what is reckoned: the stacks of its threads, most of
/// which is never touched.
std::uint64_t spare_bytes();

/// What may be reckoned in this process, by its own limits (setrlimit(2)); the largest number where
/// it has none.
std::uint64_t import_limit_bytes();

/// Throws Error(bad_model), without a file name, when a surface of that size takes more than this
/// process may have by its own limits: before it is made.
void check_room_for(const SurfaceSize& size, bool normals);

/// While a picture is read and made into planes: its pixels of 16 bits twice, and slopes as floats.
constexpr std::uint64_t bytes_per_texel = 28;

/// Pictures on a model, of which each is read for itself.
/// @param largest  pixels of the largest
/// @param all      of all, as often as a material uses one
constexpr std::uint64_t pictures_bytes(std::uint64_t largest, std::uint64_t all) {
    // Slopes and heights with their smaller levels, in an array that grows.
    constexpr std::uint64_t kept = 16, most_kept = std::uint64_t{3} << 30;
    // To integrate a normal map takes more than to read it, but it is made smaller for that.
    constexpr std::uint64_t integrated = 40, most_integrated = std::uint64_t{2048} * 2048;
    return std::max(bytes_per_texel * largest, integrated * std::min(largest, most_integrated)) +
           std::min(kept * all, most_kept);
}

}  // namespace rakelight
