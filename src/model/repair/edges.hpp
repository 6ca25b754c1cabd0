#pragma once
// Which triangles share an edge. Private to model/.

#include <algorithm>
#include <cstdint>
#include <utility>
#include <vector>

#include "model/repair/faults.hpp"
#include "model/repair/surface.hpp"

namespace rakelight {

/// What lies across the edge from a corner to the next one of its triangle, where that is not
/// another corner's edge.
inline constexpr std::uint32_t boundary_edge = 0xFFFFFFFF;
inline constexpr std::uint32_t crowded_edge = 0xFFFFFFFE;

struct Edges {
    Array<std::uint32_t> across;  ///< per corner: the corner whose edge is the same edge
    std::vector<std::pair<std::uint32_t, std::uint32_t>> crowded_pairs;  ///< triangles that meet
                                                                         ///< at crowded edges
    std::vector<BorderEdge> border;  ///< those with one triangle
    std::uint64_t crowded = 0;
};

Edges find_edges(const Surface& surface);

/// Ascending. The edges at a point are few as a rule, which an insertion sort takes best.
inline void sort_few(std::vector<std::uint64_t>& keys) {
    if (keys.size() > 32) return std::sort(keys.begin(), keys.end());
    for (std::size_t i = 1; i < keys.size(); ++i) {
        const std::uint64_t key = keys[i];
        std::size_t at = i;
        for (; at > 0 && keys[at - 1] > key; --at) keys[at] = keys[at - 1];
        keys[at] = key;
    }
}

}  // namespace rakelight
