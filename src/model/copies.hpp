#pragma once
// What a file shows several times is stored once: which places repeat an earlier one, and the flat
// mesh's parts for them. Private to model/.

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <set>
#include <span>
#include <unordered_map>
#include <vector>

#include "model/flat_mesh.hpp"

namespace rakelight {

/// Tells for every place of a shape whether it repeats an earlier one. A shape is whatever has an
/// address of its own and the same triangles wherever it stands.
class CopyFinder {
public:
    struct Found {
        std::size_t stored = 0;  ///< what was given for the place that it repeats
        Placement placement;
        bool doubled = false;  ///< the same place again: what is there already, hides it
    };

    /// Nothing where the place is the first of its shape, or is mirrored, sheared or of quite
    /// another size than the earlier ones.
    /// @param stored  names this place, should it be stored
    /// @param any_scale  false: only places of the same size repeat each other
    std::optional<Found> find(const void* shape, const glm::dmat4& model_from_shape,
                              std::size_t stored, bool any_scale);

private:
    struct Place {
        std::size_t stored;
        glm::dmat4 shape_from_model;
    };
    struct Places {
        std::vector<Place> stored;
        std::set<std::array<double, 16>> taken;
    };
    std::unordered_map<const void*, Places> shapes_;
};

/// Whether every edge has two triangles that run along it in opposite directions: what is made of
/// such a shape, normals too, depends on nothing beside it.
/// @param indices  three per triangle
bool is_closed_shape(std::span<const std::uint32_t> indices);

/// Of triangles and of vertices, where there are copies: a picture needs a bit of their numbers.
inline constexpr std::uint64_t most_placed = 0x7FFFFFF0;

/// Adds the copies of the mesh's parts behind them, with clusters of their own.
/// @param ranges  what the parts were made of, in their order
/// Throws Error(bad_model) without a file name when they are more than can be numbered.
void add_copies(FlatMesh& mesh, const std::vector<PartRange>& ranges);

}  // namespace rakelight
