#include <algorithm>
#include <array>
#include <span>

#include "model/repair/point_table.hpp"
#include "model/repair/surface.hpp"

namespace rakelight {
namespace {

/// Numbers the positions of a run of vertices, from that of the table's first on. Vertices go
/// through in blocks, whose slots are on their way from memory while the block before is looked up.
/// @param number_of_first  what the table's first position is called
void number_vertices(std::span<const glm::vec3> vertices, PointTable& table,
                     std::uint32_t number_of_first, std::uint32_t* numbers) {
    constexpr std::size_t block = 32;
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
            numbers[first + i] =
                is_nan ? no_index : number_of_first + table.number_of(positions[i], hashes[i]);
        }
    }
}

/// Positions, and for every vertex of the soup the number of its own.
struct Numbered {
    Array<glm::vec3> positions;
    Array<std::uint32_t> numbers;
};

/// The vertices of a part that has copies are numbered by themselves: what touches the one that is
/// stored does not touch its copies.
Numbered number_positions(const Soup& soup, const std::vector<PartRange>& parts,
                          std::size_t corners) {
    const std::span<const glm::vec3> vertices(soup.positions);
    Numbered all{{}, Array<std::uint32_t>(vertices.size())};
    const auto number = [&](PointTable& table, std::uint32_t from, std::size_t first,
                            std::size_t end) {
        number_vertices(vertices.subspan(first, end - first), table, from,
                        all.numbers.data() + first);
    };
    {
        PointTable table(corners / 3);  // a closed mesh has half as many points as triangles
        std::size_t next = 0;
        for (const PartRange& part : parts) {
            if (part.copies.empty()) continue;
            number(table, 0, next, part.first_vertex);
            next = std::size_t{part.first_vertex} + part.vertex_count;
        }
        number(table, 0, next, vertices.size());
        all.positions = std::move(table.positions);
    }
    for (const PartRange& part : parts) {
        if (part.copies.empty()) continue;
        PointTable table(part.triangle_count);
        number(table, static_cast<std::uint32_t>(all.positions.size()), part.first_vertex,
               std::size_t{part.first_vertex} + part.vertex_count);
        all.positions.insert(all.positions.end(), table.positions.begin(), table.positions.end());
    }
    return all;
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
    auto [positions, numbers] = number_positions(soup, surface.parts, corners);
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
