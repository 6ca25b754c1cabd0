#pragma once
// Polygons on their way to triangles. Private to model/.

#include <array>
#include <cstdint>
#include <vector>

#include "model/soup.hpp"

namespace rakelight {

/// Polygons of any size, one after the other. Runs of equal sizes are told together, so that a list
/// of triangles costs no more than its corners.
struct Polygons {
    struct Run {
        std::uint32_t size;   ///< corners of each
        std::uint32_t count;  ///< polygons
    };
    Array<std::uint32_t> corners;  ///< index of the position, per corner
    Array<std::uint32_t> normals;  ///< index of the normal per corner, no_index: none; or empty
    std::vector<Run> runs;

    void end_polygon(std::uint32_t size) {
        if (runs.empty() || runs.back().size != size) runs.push_back({size, 0});
        ++runs.back().count;
    }
    bool all_triangles() const { return runs.empty() || (runs.size() == 1 && runs[0].size == 3); }
};

/// Triangles of strips, corner by corner: each corner after the second of a strip makes a triangle
/// with the two before it, every other one wound the other way (G. Turk, "The PLY Polygon File
/// Format", and common practice of scan archives). Those that name a vertex twice join pieces of a
/// strip and are none.
class StripTriangles {
public:
    static constexpr std::uint32_t end_of_strip = 0xFFFFFFFF;  ///< -1 in the file

    void add(std::uint32_t corner, Polygons& triangles);

private:
    std::array<std::uint32_t, 2> before_{};  ///< the last two corners of the strip
    std::uint64_t count_ = 0;                ///< corners of the strip so far
};

/// How a format writes the numbers of vertices, for an error's sake.
struct VertexNumbers {
    int first = 0;           ///< what the first vertex is called
    bool is_signed = false;  ///< corners of 2^31 and more were negative
};

/// Cuts every polygon of three or more corners into triangles and drops the others; all triangles
/// of a polygon lie where it lay. A quadrangle is cut from its concave or straight corner, if it
/// has one. Larger polygons lose one ear after the other (G. H. Meisters 1975, "Polygons Have
/// Ears"), seen along their normal (Newell's, as in Sutherland, Sproull and Schumacker 1974); one
/// that crosses itself ends as a fan.
/// @param positions  all corners are below its size
void cut_to_triangles(Polygons& polygons, const Array<glm::vec3>& positions);

/// Checks all corners against `positions`, counts polygons of fewer than three corners as dropped
/// and cuts the others, each list for itself.
/// Throws Error(bad_model) when a corner is not there.
void check_and_cut(std::vector<Polygons>& lists, const Array<glm::vec3>& positions,
                   VertexNumbers numbers, ModelFacts& facts);

/// The corners of all lists, one after the other; empties the lists.
Array<std::uint32_t> join_corners(std::vector<Polygons>& lists);

}  // namespace rakelight
