#include "model/readers/polygons.hpp"

#include <algorithm>
#include <array>
#include <span>
#include <utility>

#include "model/parallel.hpp"
#include "model/readers/plain_readers.hpp"

namespace rakelight {
namespace {

using Point = glm::dvec2;

/// The triangles of one polygon, as numbers of its corners.
class Cutter {
public:
    const std::vector<std::array<std::uint32_t, 3>>& cut(std::span<const std::uint32_t> corners,
                                                         const Array<glm::vec3>& positions) {
        triangles_.clear();
        const auto count = static_cast<std::uint32_t>(corners.size());
        if (count == 3) triangles_.push_back({0, 1, 2});
        if (count <= 3) return triangles_;
        project(corners, positions);
        if (count == 4)
            cut_quadrangle();
        else
            cut_ears();
        return triangles_;
    }

private:
    // Drops the axis that the polygon's normal is nearest to, so that it runs counter-clockwise.
    void project(std::span<const std::uint32_t> corners, const Array<glm::vec3>& positions) {
        glm::dvec3 normal(0.0);
        for (std::size_t i = 0; i < corners.size(); ++i) {
            const glm::dvec3 a(positions[corners[i]]);
            const glm::dvec3 b(positions[corners[(i + 1) % corners.size()]]);
            normal += glm::cross(a - glm::dvec3(positions[corners[0]]), b - a);
        }
        const glm::dvec3 size = glm::abs(normal);
        const int axis = size.x > size.y && size.x > size.z ? 0 : (size.y > size.z ? 1 : 2);
        int u = (axis + 1) % 3, v = (axis + 2) % 3;
        if (normal[axis] < 0.0) std::swap(u, v);
        points_.clear();
        for (const std::uint32_t corner : corners) {
            const glm::dvec3 p(positions[corner]);
            points_.emplace_back(p[u], p[v]);
        }
    }

    // Twice the area of a triangle: positive when it runs counter-clockwise.
    double area(std::uint32_t a, std::uint32_t b, std::uint32_t c) const {
        const Point ab = points_[b] - points_[a], ac = points_[c] - points_[a];
        return ab.x * ac.y - ab.y * ac.x;
    }

    void cut_quadrangle() {
        std::uint32_t start = 0;
        while (start < 4 && area((start + 3) % 4, start, (start + 1) % 4) > 0.0) ++start;
        start %= 4;
        triangles_.push_back({start, (start + 1) % 4, (start + 2) % 4});
        triangles_.push_back({start, (start + 2) % 4, (start + 3) % 4});
    }

    void cut_ears() {
        const auto count = static_cast<std::uint32_t>(points_.size());
        next_.resize(count);
        inward_.clear();
        for (std::uint32_t i = 0; i < count; ++i) {
            next_[i] = (i + 1) % count;
            if (!(area((i + count - 1) % count, i, next_[i]) > 0.0)) inward_.push_back(i);
        }
        std::uint32_t left = count, before = count - 1, tried = 0;
        // Straight corners are cut only when nothing else is left, and what has no ear is no simple
        // polygon.
        double least = 0.0;
        bool any_ear = false;
        while (left > 3) {
            const std::uint32_t ear = next_[before], after = next_[ear];
            if (any_ear || is_ear(before, ear, after, least)) {
                triangles_.push_back({before, ear, after});
                next_[before] = after;
                next_[ear] = no_index;
                --left;
                tried = 0;
            } else {
                before = ear;
                if (++tried < left) continue;
                tried = 0;
                any_ear = least < 0.0;
                least = -1.0;
            }
        }
        const std::uint32_t ear = next_[before], after = next_[ear];
        std::array<std::uint32_t, 3> last{before, ear, after};
        std::rotate(last.begin(), std::min_element(last.begin(), last.end()), last.end());
        triangles_.push_back(last);
    }

    // Corners that turn inward are all that can lie in an ear: cutting one makes no new ones.
    // @param least  0: strictly convex corners only; below: straight ones too
    bool is_ear(std::uint32_t before, std::uint32_t ear, std::uint32_t after, double least) const {
        const double size = area(before, ear, after);
        if (size < 0.0 || (size == 0.0 && least == 0.0)) return false;
        const auto is_same = [&](std::uint32_t p, std::uint32_t corner) {
            return points_[p] == points_[corner];
        };
        for (const std::uint32_t p : inward_) {
            if (next_[p] == no_index || is_same(p, before) || is_same(p, ear) || is_same(p, after))
                continue;
            if (area(before, ear, p) >= 0.0 && area(ear, after, p) >= 0.0 &&
                area(after, before, p) >= 0.0)
                return false;
        }
        return true;
    }

    std::vector<Point> points_;
    std::vector<std::uint32_t> next_;    ///< no_index: cut off
    std::vector<std::uint32_t> inward_;  ///< corners that turned inward or were straight at first
    std::vector<std::array<std::uint32_t, 3>> triangles_;
};

// The greatest corner of any list.
std::uint32_t greatest_corner(const std::vector<Polygons>& lists) {
    std::uint32_t greatest = 0;
    for (const Polygons& list : lists) {
        constexpr std::size_t chunk_size = 1 << 18;
        std::vector<std::uint32_t> chunks(chunk_count(list.corners.size(), chunk_size));
        parallel_chunks(list.corners.size(), chunk_size,
                        [&](std::size_t chunk, std::size_t i, std::size_t last) {
                            std::uint32_t found = 0;
                            for (; i < last; ++i) found = std::max(found, list.corners[i]);
                            chunks[chunk] = found;
                        });
        for (const std::uint32_t found : chunks) greatest = std::max(greatest, found);
    }
    return greatest;
}

std::int64_t as_written(std::uint32_t corner, VertexNumbers numbers) {
    if (numbers.is_signed) return std::int64_t{static_cast<std::int32_t>(corner)} + numbers.first;
    return std::int64_t{corner} + numbers.first;
}

}  // namespace

void StripTriangles::add(std::uint32_t corner, Polygons& triangles) {
    if (corner == end_of_strip) {
        count_ = 0;
        return;
    }
    const auto [a, b] = before_;
    if (++count_ > 2 && a != b && b != corner && a != corner) {
        const bool turned = count_ % 2 == 0;
        for (const std::uint32_t c : {turned ? b : a, turned ? a : b, corner})
            triangles.corners.push_back(c);
        triangles.end_polygon(3);
    }
    before_ = {b, corner};
}

void cut_to_triangles(Polygons& polygons, const Array<glm::vec3>& positions) {
    if (polygons.all_triangles()) return;
    Polygons cut;
    cut.corners.reserve(polygons.corners.size());
    Cutter cutter;
    std::size_t first = 0;
    for (const Polygons::Run& run : polygons.runs) {
        for (std::uint32_t i = 0; i < run.count; ++i, first += run.size) {
            if (run.size < 3) continue;
            for (const auto& triangle :
                 cutter.cut({&polygons.corners[first], run.size}, positions)) {
                for (const std::uint32_t corner : triangle) {
                    cut.corners.push_back(polygons.corners[first + corner]);
                    if (!polygons.normals.empty())
                        cut.normals.push_back(polygons.normals[first + corner]);
                }
            }
        }
    }
    if (!cut.corners.empty()) cut.runs = {{3, static_cast<std::uint32_t>(cut.corners.size() / 3)}};
    polygons = std::move(cut);
}

void check_and_cut(std::vector<Polygons>& lists, const Array<glm::vec3>& positions,
                   VertexNumbers numbers, ModelFacts& facts) {
    if (greatest_corner(lists) >= positions.size())
        for (const Polygons& list : lists)
            for (const std::uint32_t corner : list.corners)
                if (corner >= positions.size())
                    refuse_index(as_written(corner, numbers), positions.size(), numbers.first);
    for (const Polygons& list : lists)
        for (const Polygons::Run& run : list.runs)
            if (run.size < 3) facts.dropped_lines_points += run.count;
    parallel_chunks(lists.size(), 1,
                    [&](std::size_t i, auto, auto) { cut_to_triangles(lists[i], positions); });
}

Array<std::uint32_t> join_corners(std::vector<Polygons>& lists) {
    std::vector<std::size_t> starts{0};
    for (const Polygons& list : lists) starts.push_back(starts.back() + list.corners.size());
    check_count(0, starts.back() / 3);
    if (lists.size() == 1) return std::move(lists[0].corners);
    Array<std::uint32_t> corners(starts.back());
    parallel_chunks(lists.size(), 1, [&](std::size_t i, auto, auto) {
        const Array<std::uint32_t> list = std::exchange(lists[i].corners, {});
        std::copy(list.begin(), list.end(), corners.begin() + std::ptrdiff_t(starts[i]));
    });
    return corners;
}

}  // namespace rakelight
