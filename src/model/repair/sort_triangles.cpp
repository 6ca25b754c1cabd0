// Spatial order by Morton codes (G. M. Morton 1966, "A Computer Oriented Geodetic Data Base and a
// New Technique in File Sequencing"): neighbours on the curve are neighbours in space.

#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "model/parallel.hpp"
#include "model/repair/surface.hpp"

namespace rakelight {
namespace {

// Up to this many triangles make one cluster, whose order nobody needs.
constexpr std::uint32_t too_few_to_sort = 4096;
constexpr std::size_t chunk_size = 1 << 15;
constexpr std::uint32_t not_finite_key = 0xFFFFFFFF;
constexpr std::uint32_t degenerate_key = 0xFFFFFFFE;

struct Corners {
    glm::vec3 a, b, c;
};

Corners corners_of(const Soup& soup, std::uint32_t triangle) {
    const std::uint32_t* index = &soup.indices[3 * std::size_t{triangle}];
    return {soup.positions[index[0]], soup.positions[index[1]], soup.positions[index[2]]};
}

bool is_finite(glm::vec3 v) {
    // A NaN or an infinity is what survives as not zero when multiplied by zero.
    return v.x * 0.0f + v.y * 0.0f + v.z * 0.0f == 0.0f;
}

bool is_finite(const Corners& t) {
    return is_finite(t.a) && is_finite(t.b) && is_finite(t.c);
}

// In double the products of two differences of floats are exact as a rule, so that three points on
// a line give zero and a thin triangle does not. Two equal corners give zero too.
bool has_area(const Corners& t) {
    const glm::dvec3 n =
        glm::cross(glm::dvec3(t.b) - glm::dvec3(t.a), glm::dvec3(t.c) - glm::dvec3(t.a));
    return n.x != 0.0 || n.y != 0.0 || n.z != 0.0;
}

// Cells along each axis of the grid: 256 give about 200,000 cells on a surface.
constexpr unsigned bits_per_axis = 8;

// Puts two zero bits before each of the lower eight.
std::uint32_t spread(std::uint32_t v) {
    v = (v | (v << 8)) & 0x0000F00F;
    v = (v | (v << 4)) & 0x000C30C3;
    return (v | (v << 2)) & 0x00249249;
}

struct Grid {
    glm::dvec3 low{0.0};
    glm::dvec3 cells_per_unit{0.0};

    std::uint32_t code(const Corners& t) const {
        const glm::dvec3 centre =
            (glm::dvec3(t.a) + glm::dvec3(t.b) + glm::dvec3(t.c)) * (1.0 / 3.0);
        const glm::dvec3 cell = glm::clamp((centre - low) * cells_per_unit, 0.0, 255.0);
        return spread(static_cast<std::uint32_t>(cell.x)) |
               (spread(static_cast<std::uint32_t>(cell.y)) << 1) |
               (spread(static_cast<std::uint32_t>(cell.z)) << 2);
    }
};

// A cube around a sample of the part's corners, so that the cells are cubes as well. What lies
// outside falls into the outermost cells.
Grid grid_of(const Soup& soup, const PartRange& part) {
    constexpr std::size_t stride = 31;  // no multiple of 3: all corners get their turn
    glm::vec3 low(std::numeric_limits<float>::max()), high = -low;
    for (std::size_t i = 3 * std::size_t{part.first_triangle},
                     end = i + 3 * std::size_t{part.triangle_count};
         i < end; i += stride) {
        const glm::vec3 p = soup.positions[soup.indices[i]];
        if (!is_finite(p)) continue;
        low = glm::min(low, p);
        high = glm::max(high, p);
    }
    const glm::dvec3 size = glm::dvec3(high) - glm::dvec3(low);
    const double longest = std::max({size.x, size.y, size.z});
    return {low, glm::dvec3(longest > 0.0 ? 256.0 / longest : 0.0)};
}

// Key (its upper half decides) and triangle of every triangle of the part; the sort is stable.
void radix_sort(Array<std::uint64_t>& items, Array<std::uint64_t>& spare) {
    constexpr unsigned digit_bits = 12, digits = 1u << digit_bits;
    spare.resize(items.size());
    for (unsigned shift = 32; shift < 32 + 3 * bits_per_axis; shift += digit_bits) {
        std::array<std::uint32_t, digits> place{};
        for (const std::uint64_t item : items) ++place[(item >> shift) & (digits - 1)];
        std::uint32_t sum = 0;
        for (std::uint32_t& p : place) sum += std::exchange(p, sum);
        for (const std::uint64_t item : items)
            spare[place[(item >> shift) & (digits - 1)]++] = item;
        items.swap(spare);
    }
}

class Sorter {
public:
    Sorter(const Soup& soup, ModelFacts& facts) : soup_(soup), facts_(facts) {}

    // The triangles of the part that stay, in their new order, in the lower halves.
    const Array<std::uint64_t>& sort(const PartRange& part) {
        items_.resize(part.triangle_count);
        const bool in_place = part.triangle_count <= too_few_to_sort;
        const Grid grid = in_place ? Grid{} : grid_of(soup_, part);
        parallel_chunks(items_.size(), chunk_size, [&](auto, std::size_t i, std::size_t last) {
            for (; i < last; ++i) {
                const auto triangle = static_cast<std::uint32_t>(part.first_triangle + i);
                items_[i] = (std::uint64_t{key(triangle, grid, in_place)} << 32) | triangle;
            }
        });
        drop();
        if (!in_place) radix_sort(items_, spare_);
        return items_;
    }

private:
    std::uint32_t key(std::uint32_t triangle, const Grid& grid, bool in_place) const {
        const Corners corners = corners_of(soup_, triangle);
        if (!is_finite(corners)) return not_finite_key;
        if (!has_area(corners)) return degenerate_key;
        return in_place ? 0 : grid.code(corners);
    }

    void drop() {
        std::erase_if(items_, [&](std::uint64_t item) {
            const auto key = static_cast<std::uint32_t>(item >> 32);
            facts_.dropped_not_finite += key == not_finite_key;
            facts_.dropped_degenerate += key == degenerate_key;
            return key >= degenerate_key;
        });
    }

    const Soup& soup_;
    ModelFacts& facts_;
    Array<std::uint64_t> items_, spare_;
};

}  // namespace

Surface sort_triangles(const Soup& soup, ModelFacts& facts) {
    Surface surface;
    surface.vertices.resize(soup.indices.size());
    std::size_t corner = 0;
    Sorter sorter(soup, facts);
    for (const PartRange& part : soup.parts) {
        PartRange kept = part;
        kept.first_triangle = static_cast<std::uint32_t>(corner / 3);
        for (const std::uint64_t item : sorter.sort(part)) {
            const std::uint32_t* index = &soup.indices[3 * (item & 0xFFFFFFFF)];
            for (int k = 0; k < 3; ++k) surface.vertices[corner++] = index[k];
        }
        kept.triangle_count = static_cast<std::uint32_t>(corner / 3) - kept.first_triangle;
        if (kept.triangle_count > 0) surface.parts.push_back(std::move(kept));
    }
    surface.vertices.resize(corner);
    return surface;
}

}  // namespace rakelight
