#pragma once
// Polygons on their way to triangles. Private to model/.

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

/// Cuts every polygon of three or more corners into triangles and drops the others; all triangles
/// of a polygon lie where it lay. A quadrangle is cut from its concave or straight corner, if it
/// has one. Larger polygons lose one ear after the other (G. H. Meisters 1975, "Polygons Have
/// Ears"), seen along their normal (Newell's, as in Sutherland, Sproull and Schumacker 1974); one
/// that crosses itself ends as a fan.
/// @param positions  all corners are below its size
void cut_to_triangles(Polygons& polygons, const Array<glm::vec3>& positions);

/// Checks all corners against `positions`, counts polygons of fewer than three corners as dropped
/// and cuts the others, each list for itself.
/// @param first  what the format's first vertex is called, for the error's sake
/// Throws Error(bad_model) when a corner is not there.
void check_and_cut(std::vector<Polygons>& lists, const Array<glm::vec3>& positions, int first,
                   ModelFacts& facts);

/// The corners of all lists, one after the other; empties the lists.
Array<std::uint32_t> join_corners(std::vector<Polygons>& lists);

}  // namespace rakelight
