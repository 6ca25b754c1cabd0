#include "model/repair/faults.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <bit>
#include <cmath>
#include <limits>
#include <memory>
#include <numeric>

#include "model/parallel.hpp"

namespace rakelight {
namespace {

using Cell = std::array<std::int64_t, 3>;

/// Points of the border in a table of cubes of one size. A point lies in every cube that it is
/// within `slack` of, so that who walks a line looks into the cubes of the line alone.
class PointGrid {
public:
    PointGrid(const std::vector<std::uint32_t>& points, const Array<glm::vec3>& positions,
              double cell)
        : cell_(cell), slots_(std::bit_ceil(2 * points.size() + 1) + 1, 0) {
        std::vector<std::pair<std::uint32_t, std::uint32_t>> placed;  // slot, point
        for (const std::uint32_t point : points)
            for_cells_of(positions[point],
                         [&](const Cell& at) { placed.emplace_back(slot_of(at), point); });
        for (const auto& [slot, point] : placed) ++slots_[slot + 1];
        std::partial_sum(slots_.begin(), slots_.end(), slots_.begin());
        std::vector<std::uint32_t> next(slots_.begin(), slots_.end() - 1);
        points_.resize(placed.size());
        for (const auto& [slot, point] : placed) points_[next[slot]++] = point;
    }

    /// Calls visit(point) for all in the cubes that the line passes, and for some others.
    template <class Visit>
    void along(glm::dvec3 from, glm::dvec3 to, const Visit& visit) const;

private:
    // Of points within an edge only those of its rounding matter, see lies_on.
    static constexpr double slack = 1e-3;  // of a cube's side

    std::int64_t step_of(double at) const {
        return static_cast<std::int64_t>(std::floor(std::clamp(at / cell_, -1e15, 1e15)));
    }

    template <class Take>
    void for_cells_of(glm::dvec3 at, const Take& take) const {
        Cell low, high;
        for (int k = 0; k < 3; ++k) {
            low[k] = step_of(at[k] - slack * cell_);
            high[k] = step_of(at[k] + slack * cell_);
        }
        for (Cell c = low; c[0] <= high[0]; ++c[0])
            for (c[1] = low[1]; c[1] <= high[1]; ++c[1])
                for (c[2] = low[2]; c[2] <= high[2]; ++c[2]) take(c);
    }

    // Cubes far apart may share a slot: their points are looked at in vain.
    std::uint32_t slot_of(const Cell& cell) const {
        std::uint64_t mixed = 0;
        for (const std::int64_t step : cell)
            mixed = (mixed ^ static_cast<std::uint64_t>(step)) * 0x9E3779B97F4A7C15ULL;
        return static_cast<std::uint32_t>((mixed >> 32) & (slots_.size() - 2));
    }

    double cell_;
    std::vector<std::uint32_t> slots_;  ///< where each slot's points begin
    std::vector<std::uint32_t> points_;
};

// J. Amanatides and A. Woo 1987, "A Fast Voxel Traversal Algorithm for Ray Tracing".
template <class Visit>
void PointGrid::along(glm::dvec3 from, glm::dvec3 to, const Visit& visit) const {
    Cell cell, end, step;
    glm::dvec3 next, per_cell;  // shares of the way: to the next wall, and between two walls
    std::int64_t left = 0;
    for (int k = 0; k < 3; ++k) {
        const double way = to[k] - from[k];
        cell[k] = step_of(from[k]);
        end[k] = step_of(to[k]);
        step[k] = way < 0.0 ? -1 : 1;
        const double wall = cell_ * static_cast<double>(cell[k] + (way < 0.0 ? 0 : 1));
        const bool still = cell[k] == end[k];
        next[k] = still ? std::numeric_limits<double>::infinity() : (wall - from[k]) / way;
        per_cell[k] = still ? 0.0 : cell_ / std::abs(way);
        left += std::abs(end[k] - cell[k]);
    }
    for (;; --left) {
        const std::uint32_t slot = slot_of(cell);
        for (std::uint32_t i = slots_[slot]; i < slots_[slot + 1]; ++i) visit(points_[i]);
        if (left <= 0) return;
        int k = next.x <= next.y ? 0 : 1;
        if (next[2] < next[k]) k = 2;
        cell[k] += step[k];
        next[k] =
            cell[k] == end[k] ? std::numeric_limits<double>::infinity() : next[k] + per_cell[k];
    }
}

double length_of(const BorderEdge& edge, const Array<glm::vec3>& positions) {
    return glm::distance(glm::dvec3(positions[edge.first]), glm::dvec3(positions[edge.second]));
}

// Between the ends, and no farther from the edge than rounding brings a point that was put there.
bool lies_on(glm::dvec3 point, glm::dvec3 from, glm::dvec3 to) {
    const glm::dvec3 along = to - from;
    const double share = glm::dot(point - from, along) / glm::dot(along, along);
    if (share < 1e-3 || share > 1.0 - 1e-3) return false;
    const double largest = std::max({std::abs(point.x), std::abs(point.y), std::abs(point.z)});
    const double rounding = 4.0 * std::numeric_limits<float>::epsilon() * largest;
    return glm::distance(point, from + share * along) <= 1e-5 * glm::length(along) + rounding;
}

std::vector<std::uint32_t> points_of(const std::vector<BorderEdge>& border) {
    std::vector<std::uint32_t> points;
    for (const auto& [a, b] : border) points.insert(points.end(), {a, b});
    std::sort(points.begin(), points.end());
    points.erase(std::unique(points.begin(), points.end()), points.end());
    return points;
}

// A long edge is walked in this many steps at the most.
double cell_size(const std::vector<BorderEdge>& border, const Array<glm::vec3>& positions) {
    constexpr double most_steps = 512.0;
    double sum = 0.0, longest = 0.0;
    for (const BorderEdge& edge : border) {
        const double length = length_of(edge, positions);
        sum += length;
        longest = std::max(longest, length);
    }
    return std::max(sum / static_cast<double>(border.size()), longest / most_steps);
}

constexpr double stands_out = 8.0;

// Of a spike each triangle is narrow: no side of the ring is longer than the ring is wide. It tells
// nearly all points from spikes by one look.
bool is_narrow(const Surface& surface, std::uint32_t corner) {
    const glm::dvec3 tip = surface.positions[surface.points[corner]];
    const glm::dvec3 a = surface.positions[surface.points[next_corner(corner)]];
    const glm::dvec3 b = surface.positions[surface.points[previous_corner(corner)]];
    return glm::dot(a - tip, a - tip) > stands_out * stands_out * glm::dot(b - a, b - a);
}

bool is_spike(const Surface& surface, std::uint32_t point, std::vector<glm::vec3>& ring) {
    const std::uint32_t first = surface.fans.first[point], end = surface.fans.first[point + 1];
    if (end - first < 3 || !is_narrow(surface, surface.fans.corners[first])) return false;
    ring.clear();
    for (std::uint32_t i = first; i < end; ++i) {
        const std::uint32_t corner = surface.fans.corners[i];
        ring.push_back(surface.positions[surface.points[next_corner(corner)]]);
        ring.push_back(surface.positions[surface.points[previous_corner(corner)]]);
    }
    glm::dvec3 middle(0.0);
    for (const glm::vec3& p : ring) middle += glm::dvec3(p) / static_cast<double>(ring.size());
    double radius = 0.0, nearest = std::numeric_limits<double>::infinity();
    const glm::dvec3 tip = surface.positions[point];
    for (const glm::vec3& p : ring) {
        radius = std::max(radius, glm::distance(glm::dvec3(p), middle));
        nearest = std::min(nearest, glm::distance(glm::dvec3(p), tip));
    }
    return nearest > stands_out * 2.0 * radius;
}

/// A place of an enclosed piece; counts how often a line upward from it passes the outer one.
struct Probe {
    glm::dvec3 at;
    std::uint32_t outer;
    std::atomic<std::uint32_t> passed{0};
    Probe(glm::dvec3 at_, std::uint32_t outer_) : at(at_), outer(outer_) {}
};

// Seen from above: twice the signed area of the triangle a, b, p.
double side(glm::dvec2 a, glm::dvec2 b, glm::dvec2 p) {
    return (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
}

bool passes_above(glm::dvec3 at, glm::dvec3 a, glm::dvec3 b, glm::dvec3 c) {
    const double u = side(b, c, at), v = side(c, a, at), w = side(a, b, at);
    if ((u < 0.0) != (v < 0.0) || (v < 0.0) != (w < 0.0) || u + v + w == 0.0) return false;
    return (u * a.z + v * b.z + w * c.z) / (u + v + w) > at.z;
}

/// Probes sorted by columns of the plane that is looked at from above.
class ProbeTable {
public:
    ProbeTable(const Surface& surface, const std::vector<EnclosedPiece>& enclosed) {
        for (const EnclosedPiece& piece : enclosed) {
            glm::dvec3 sum(0.0);
            for (std::size_t k = 0; k < 3; ++k)
                sum += glm::dvec3(
                    surface.positions[surface.points[3 * std::size_t{piece.first_triangle} + k]]);
            probes_.push_back(std::make_unique<Probe>(sum / 3.0, piece.outer));
        }
        std::sort(probes_.begin(), probes_.end(),
                  [](const auto& a, const auto& b) { return a->at.x < b->at.x; });
    }

    void pass(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c, std::uint32_t piece) {
        const double low = std::min({a.x, b.x, c.x}), high = std::max({a.x, b.x, c.x});
        auto probe = std::lower_bound(probes_.begin(), probes_.end(), low,
                                      [](const auto& p, double x) { return p->at.x < x; });
        for (; probe != probes_.end() && (*probe)->at.x <= high; ++probe)
            if ((*probe)->outer == piece && passes_above((*probe)->at, a, b, c)) ++(*probe)->passed;
    }

    std::uint64_t inside() const {
        return static_cast<std::uint64_t>(
            std::count_if(probes_.begin(), probes_.end(),
                          [](const auto& probe) { return probe->passed % 2 == 1; }));
    }

private:
    std::vector<std::unique_ptr<Probe>> probes_;
};

}  // namespace

std::uint64_t count_borders(const std::vector<BorderEdge>& border, std::size_t points) {
    if (border.empty()) return 0;
    Array<std::uint32_t> parent(points);
    std::iota(parent.begin(), parent.end(), 0);
    const auto root = [&](std::uint32_t p) {
        while (parent[p] != p) p = parent[p] = parent[parent[p]];
        return p;
    };
    for (const auto& [a, b] : border) {
        const std::uint32_t root_a = root(a), root_b = root(b);
        parent[std::max(root_a, root_b)] = std::min(root_a, root_b);
    }
    std::uint64_t count = 0;
    for (const std::uint32_t point : points_of(border)) count += root(point) == point;
    return count;
}

std::uint64_t count_t_junctions(const std::vector<BorderEdge>& border,
                                const Array<glm::vec3>& positions) {
    if (border.empty()) return 0;
    const double cell = cell_size(border, positions);
    const std::vector<std::uint32_t> points = points_of(border);
    const PointGrid grid(points, positions, cell);
    std::vector<std::atomic<bool>> on_edge(positions.size());
    constexpr std::size_t chunk_size = 1 << 10;
    parallel_chunks(border.size(), chunk_size, [&](auto, std::size_t i, std::size_t last) {
        for (; i < last; ++i) {
            const auto [a, b] = border[i];
            const glm::dvec3 from = positions[a], to = positions[b];
            grid.along(from, to, [&, a = a, b = b](std::uint32_t point) {
                if (point != a && point != b && lies_on(positions[point], from, to))
                    on_edge[point] = true;
            });
        }
    });
    return static_cast<std::uint64_t>(
        std::count_if(points.begin(), points.end(), [&](auto p) { return on_edge[p].load(); }));
}

std::uint64_t count_spikes(const Surface& surface) {
    std::atomic<std::uint64_t> count{0};
    constexpr std::size_t chunk_size = 1 << 14;
    parallel_chunks(surface.positions.size(), chunk_size,
                    [&](auto, std::size_t p, std::size_t last) {
                        std::vector<glm::vec3> ring;
                        std::uint64_t found = 0;
                        for (; p < last; ++p)
                            found += is_spike(surface, static_cast<std::uint32_t>(p), ring);
                        count += found;
                    });
    return count;
}

std::uint64_t count_inner_shells(const Surface& surface,
                                 const std::vector<EnclosedPiece>& enclosed) {
    if (enclosed.empty()) return 0;
    std::vector<bool> is_outer(surface.piece_count, false);
    for (const EnclosedPiece& piece : enclosed) is_outer[piece.outer] = true;
    ProbeTable probes(surface, enclosed);
    constexpr std::size_t chunk_size = 1 << 14;
    parallel_chunks(surface.triangle_count(), chunk_size,
                    [&](auto, std::size_t t, std::size_t last) {
                        for (; t < last; ++t) {
                            if (!is_outer[surface.pieces[t]]) continue;
                            const std::uint32_t* p = &surface.points[3 * t];
                            probes.pass(surface.positions[p[0]], surface.positions[p[1]],
                                        surface.positions[p[2]], surface.pieces[t]);
                        }
                    });
    return probes.inside();
}

}  // namespace rakelight
