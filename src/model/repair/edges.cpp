#include "model/repair/edges.hpp"

#include "model/parallel.hpp"

namespace rakelight {
namespace {

constexpr std::size_t chunk_size = 1 << 14;

struct ChunkOfEdges {
    std::vector<std::pair<std::uint32_t, std::uint32_t>> crowded_pairs;
    std::vector<BorderEdge> border;
    std::uint64_t crowded = 0;
};

// The edges from `point` to points with larger numbers, so that each edge is met once: the other
// point in the upper half, in the lower half the corner that the edge starts from.
void edges_at(const Surface& surface, std::uint32_t point, std::vector<std::uint64_t>& keys) {
    keys.clear();
    const auto add = [&](std::uint32_t other, std::uint32_t corner) {
        if (other > point) keys.push_back((std::uint64_t{other} << 32) | corner);
    };
    for (std::uint32_t i = surface.fans.first[point]; i < surface.fans.first[point + 1]; ++i) {
        const std::uint32_t corner = surface.fans.corners[i];
        const std::uint32_t before = previous_corner(corner);
        add(surface.points[next_corner(corner)], corner);
        add(surface.points[before], before);
    }
    sort_few(keys);
}

// `corners` are the lower halves of the keys of one edge.
void join(std::uint32_t point, std::span<const std::uint64_t> keys, Array<std::uint32_t>& across,
          ChunkOfEdges& found) {
    const auto corner = [&](std::size_t i) { return static_cast<std::uint32_t>(keys[i]); };
    if (keys.size() == 2) {
        across[corner(0)] = corner(1);
        across[corner(1)] = corner(0);
        return;
    }
    const bool alone = keys.size() == 1;
    if (alone)
        found.border.emplace_back(point, static_cast<std::uint32_t>(keys[0] >> 32));
    else
        ++found.crowded;
    for (std::size_t i = 0; i < keys.size(); ++i) {
        across[corner(i)] = alone ? boundary_edge : crowded_edge;
        if (i > 0) found.crowded_pairs.emplace_back(corner(i - 1) / 3, corner(i) / 3);
    }
}

}  // namespace

Edges find_edges(const Surface& surface) {
    Edges edges;
    edges.across.resize(surface.points.size());
    const std::size_t points = surface.positions.size();
    std::vector<ChunkOfEdges> chunks(chunk_count(points, chunk_size));
    parallel_chunks(points, chunk_size, [&](std::size_t chunk, std::size_t p, std::size_t last) {
        std::vector<std::uint64_t> keys;
        ChunkOfEdges found;
        for (; p < last; ++p) {
            edges_at(surface, static_cast<std::uint32_t>(p), keys);
            for (std::size_t i = 0, end; i < keys.size(); i = end) {
                for (end = i + 1; end < keys.size() && keys[end] >> 32 == keys[i] >> 32;) ++end;
                join(static_cast<std::uint32_t>(p), {&keys[i], end - i}, edges.across, found);
            }
        }
        chunks[chunk] = std::move(found);
    });
    for (const ChunkOfEdges& chunk : chunks) {
        edges.border.insert(edges.border.end(), chunk.border.begin(), chunk.border.end());
        edges.crowded += chunk.crowded;
        edges.crowded_pairs.insert(edges.crowded_pairs.end(), chunk.crowded_pairs.begin(),
                                   chunk.crowded_pairs.end());
    }
    return edges;
}

}  // namespace rakelight
