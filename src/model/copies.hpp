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

/// Which sizes of a shape repeat each other.
enum class CopySizes { same, alike };

/// Where the places of a shape repeat an earlier one. A shape is whatever has an address of its own
/// and the same triangles wherever it stands.
class CopyFinder {
public:
    struct Found {
        std::size_t stored;  ///< what was given for the place that it repeats
        Placement placement;
    };

    /// Notes the place. True when it was noted before: a doubled shell, which nobody sees. A matrix
    /// that is no number is no place.
    bool is_doubled(const void* shape, const glm::dmat4& model_from_shape);

    /// What the place repeats. Nothing where none of the latest stored ones is the same turned and
    /// scaled evenly: mirrored or sheared ones, ones of quite another size, and ones so far out
    /// that what is stored there is too coarse for here.
    std::optional<Found> find(const void* shape, const glm::dmat4& model_from_shape,
                              CopySizes sizes) const;

    /// Notes what is stored.
    /// @param stored  names it
    /// @param box     of its points, model units
    void store(const void* shape, const glm::dmat4& model_from_shape, std::size_t stored,
               const Bounds& box);

private:
    struct Place {
        std::size_t stored;
        glm::dmat4 shape_from_model;
        Bounds box;
    };
    std::unordered_map<const void*, std::set<std::array<double, 16>>> taken_;
    std::unordered_map<const void*, std::vector<Place>> stored_;
};

/// The box around a box that is turned and moved.
Bounds placed_box(const Bounds& box, const glm::dmat3& linear, const glm::dvec3& shift);

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
