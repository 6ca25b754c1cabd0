// Triangles that lie on one another: doubled shells, and parts that were exported twice.

#include <algorithm>
#include <utility>

#include "model/parallel.hpp"
#include "model/repair/surface.hpp"

namespace rakelight {
namespace {

struct Placed {
    std::uint64_t others;  ///< the two larger points, the larger one below
    std::uint32_t triangle;
    bool operator<(const Placed& b) const {
        return std::pair(others, triangle) < std::pair(b.others, b.triangle);
    }
};

// The triangles whose smallest point this is, so that each is met once.
void triangles_at(const Surface& surface, std::uint32_t point, std::vector<Placed>& placed) {
    placed.clear();
    for (std::uint32_t i = surface.fans.first[point]; i < surface.fans.first[point + 1]; ++i) {
        const std::uint32_t corner = surface.fans.corners[i];
        const std::uint32_t a = surface.points[next_corner(corner)];
        const std::uint32_t b = surface.points[previous_corner(corner)];
        if (a < point || b < point) continue;
        placed.push_back({(std::uint64_t{std::min(a, b)} << 32) | std::max(a, b), corner / 3});
    }
}

/// All but the first of those that have the same three points, ascending.
std::vector<std::uint32_t> find_doubled(const Surface& surface) {
    constexpr std::size_t chunk_size = 1 << 14;
    const std::size_t points = surface.positions.size();
    std::vector<std::vector<std::uint32_t>> chunks(chunk_count(points, chunk_size));
    parallel_chunks(points, chunk_size, [&](std::size_t chunk, std::size_t p, std::size_t last) {
        std::vector<Placed> placed;
        for (; p < last; ++p) {
            triangles_at(surface, static_cast<std::uint32_t>(p), placed);
            if (placed.size() < 2) continue;
            std::sort(placed.begin(), placed.end());
            for (std::size_t i = 1; i < placed.size(); ++i)
                if (placed[i].others == placed[i - 1].others)
                    chunks[chunk].push_back(placed[i].triangle);
        }
    });
    std::vector<std::uint32_t> doubled;
    for (const auto& chunk : chunks) doubled.insert(doubled.end(), chunk.begin(), chunk.end());
    std::sort(doubled.begin(), doubled.end());
    return doubled;
}

void take_out(Array<std::uint32_t>& corners, const std::vector<std::uint32_t>& triangles) {
    if (corners.empty()) return;
    std::size_t to = 0;
    auto next = triangles.begin();
    for (std::uint32_t t = 0; t < corners.size() / 3; ++t) {
        if (next != triangles.end() && *next == t) {
            ++next;
            continue;
        }
        for (std::size_t k = 0; k < 3; ++k) corners[to++] = corners[3 * std::size_t{t} + k];
    }
    corners.resize(to);
}

void take_out(std::vector<PartRange>& parts, const std::vector<std::uint32_t>& triangles) {
    const auto before = [&](std::uint32_t triangle) {
        return static_cast<std::uint32_t>(
            std::lower_bound(triangles.begin(), triangles.end(), triangle) - triangles.begin());
    };
    for (PartRange& part : parts) {
        const std::uint32_t end = part.first_triangle + part.triangle_count;
        part.triangle_count =
            end - before(end) - (part.first_triangle - before(part.first_triangle));
        part.first_triangle -= before(part.first_triangle);
    }
    std::erase_if(parts, [](const PartRange& part) { return part.triangle_count == 0; });
}

}  // namespace

void drop_doubled(Surface& surface, ModelFacts& facts) {
    const std::vector<std::uint32_t> doubled = find_doubled(surface);
    facts.dropped_doubled += doubled.size();
    if (doubled.empty()) return;
    take_out(surface.points, doubled);
    take_out(surface.vertices, doubled);
    take_out(surface.parts, doubled);
    surface.fans = fans_of(surface.points, surface.positions.size());
}

}  // namespace rakelight
