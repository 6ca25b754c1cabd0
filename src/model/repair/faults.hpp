#pragma once
// Faults of a mended surface that are counted and not mended: none of them hinders a picture, but
// whoever bought the model wants to know. Private to model/.

#include <utility>
#include <vector>

#include "model/repair/surface.hpp"

namespace rakelight {

/// An edge with one triangle, by its two points.
using BorderEdge = std::pair<std::uint32_t, std::uint32_t>;

/// A closed piece within the bounds of another one, both wound outward.
struct EnclosedPiece {
    std::uint32_t first_triangle;
    std::uint32_t outer;  ///< the other piece's number
};

/// Borders that do not touch each other: as many holes, or edges of sheets.
std::uint64_t count_borders(const std::vector<BorderEdge>& border, std::size_t points);

/// Points of the border that lie on a border edge between its ends: where they meet, a crack of
/// rounding may open.
std::uint64_t count_t_junctions(const std::vector<BorderEdge>& border,
                                const Array<glm::vec3>& positions);

/// Points that stand out from the ring of their neighbours by more than eight times its width.
std::uint64_t count_spikes(const Surface& surface);

/// Those that lie within the solid, not only within its bounds.
std::uint64_t count_inner_shells(const Surface& surface,
                                 const std::vector<EnclosedPiece>& enclosed);

}  // namespace rakelight
