#include <algorithm>
#include <array>

#include "model/point_table.hpp"
#include "model/surface.hpp"

namespace rakelight {
namespace {

/// Per vertex of the soup the number of its position in the table. Vertices go through in blocks,
/// whose slots are on their way from memory while the block before is looked up.
Array<std::uint32_t> number_vertices(const Array<glm::vec3>& vertices, PointTable& table) {
    constexpr std::size_t block = 32;
    Array<std::uint32_t> numbers(vertices.size());
    std::array<std::uint64_t, block> hashes{};
    std::array<glm::vec3, block> positions{};
    for (std::size_t first = 0; first < vertices.size(); first += block) {
        const std::size_t count = std::min(block, vertices.size() - first);
        for (std::size_t i = 0; i < count; ++i) {
            positions[i] = vertices[first + i] + 0.0f;  // -0 becomes 0: equal, but of other bits
            hashes[i] = hash_of(positions[i]);
            table.prefetch(hashes[i]);
        }
        for (std::size_t i = 0; i < count; ++i) {
            // A NaN equals nothing and would get a number each time; no triangle uses it any more.
            const bool is_nan = positions[i] != positions[i];
            numbers[first + i] = is_nan ? no_index : table.number_of(positions[i], hashes[i]);
        }
    }
    return numbers;
}

/// From the number of corners on each point, which stand two places behind it.
Fans make_fans(Array<std::uint32_t>&& counts, const Array<std::uint32_t>& points) {
    Fans fans{std::move(counts), {}};
    for (std::size_t p = 2; p < fans.first.size(); ++p) fans.first[p] += fans.first[p - 1];
    fans.corners.resize(points.size());
    // Filling moves each start, one place behind, to where the next point's is.
    for (std::uint32_t c = 0; c < points.size(); ++c) fans.corners[fans.first[points[c] + 1]++] = c;
    fans.first.pop_back();
    return fans;
}

}  // namespace

Fans fans_of(const Array<std::uint32_t>& points, std::size_t count) {
    Array<std::uint32_t> counts(count + 2, 0);
    for (const std::uint32_t point : points) ++counts[point + 2];
    return make_fans(std::move(counts), points);
}

void weld(const Soup& soup, Surface& surface) {
    const std::size_t corners = surface.vertices.size();
    Array<glm::vec3> positions;
    Array<std::uint32_t> numbers;
    {
        PointTable table(corners / 3);  // a closed mesh has half as many points as triangles
        numbers = number_vertices(soup.positions, table);
        positions = std::move(table.positions);
    }
    Array<std::uint32_t> point_of(positions.size(), no_index);
    Array<std::uint32_t> counts(positions.size() + 2, 0);
    surface.positions.reserve(positions.size());
    if (soup.normals.empty() && soup.places.empty())
        surface.points = std::move(surface.vertices);
    else
        surface.points = surface.vertices;
    for (std::uint32_t& corner : surface.points) {
        const std::uint32_t number = numbers[corner];
        std::uint32_t& point = point_of[number];
        if (point == no_index) {
            point = static_cast<std::uint32_t>(surface.positions.size());
            surface.positions.push_back(positions[number]);
        }
        corner = point;
        ++counts[point + 2];
    }
    drop(numbers);
    drop(positions);
    drop(point_of);
    counts.resize(surface.positions.size() + 2);
    surface.fans = make_fans(std::move(counts), surface.points);
}

}  // namespace rakelight
