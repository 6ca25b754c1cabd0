#pragma once
// The mended surface: triangles whose corners are welded by position, in spatial order, wound
// consistently. Made from a soup by the steps below, in this order. Private to model/.

#include <array>
#include <cstdint>
#include <vector>

#include "model/soup.hpp"

namespace rakelight {

/// For every point the corners that lie on it: corners[first[p]] to corners[first[p + 1]].
struct Fans {
    Array<std::uint32_t> first;
    Array<std::uint32_t> corners;  ///< ascending within a point
};

struct Face {
    glm::vec3 normal;             ///< unit, on the side that the winding faces
    std::array<float, 3> angles;  ///< at the three corners, radians
};

/// Of a triangle with an area. The angles are off by less than 5e-8.
Face face_of(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c);
/// The same normal without the angles.
glm::vec3 normal_of(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c);

struct Surface {
    Array<std::uint32_t> vertices;  ///< per corner: index into the soup's vertices, for normals and
                                    ///< places; empty once points are known where it has neither
    Array<std::uint32_t> points;    ///< per corner: index into positions
    Array<glm::vec3> positions;     ///< no two are equal but for parts with copies; in the order
                                    ///< of their first use
    std::vector<PartRange> parts;   ///< none is empty
    Fans fans;
    Array<std::uint32_t> pieces;  ///< per triangle: which piece of manifold surface it is of
    std::uint32_t piece_count = 0;

    std::size_t triangle_count() const { return points.size() / 3; }
    /// Made anew each time: to keep them takes more memory than the mesh itself.
    Face face(std::size_t triangle) const {
        const std::uint32_t* corner = &points[3 * triangle];
        return face_of(positions[corner[0]], positions[corner[1]], positions[corner[2]]);
    }
    glm::vec3 normal(std::size_t triangle) const {
        const std::uint32_t* corner = &points[3 * triangle];
        return normal_of(positions[corner[0]], positions[corner[1]], positions[corner[2]]);
    }
};

/// Drops triangles that are not finite or have no area (counted in the facts) and puts those of
/// each part into spatial order, along a Morton curve through their centroids. Fills `vertices` and
/// `parts`.
Surface sort_triangles(const Soup& soup, ModelFacts& facts);

/// Welds corners whose positions are equal (0 and -0 are); those of a part that has copies among
/// themselves only. Fills `points`, `positions`, `fans`; the
/// soup's positions are not needed any more.
void weld(const Soup& soup, Surface& surface);

/// For every point its corners.
/// @param count  of points
Fans fans_of(const Array<std::uint32_t>& points, std::size_t count);

/// Drops all but the first of the triangles that have the same three points, whichever way they are
/// wound (counted in the facts): no picture shows them, and where a shell is there twice no edge
/// could be smooth. Empty parts go.
void drop_doubled(Surface& surface, ModelFacts& facts);

/// Makes the windings agree across every edge that has two triangles, turning the minority of each
/// piece, and turns closed pieces outward by their signed volume. A closed piece within the bounds
/// of a larger closed piece is turned only together with it: it may be a cavity. Fills `pieces`
/// and, in the facts, flipped windings, boundary and crowded edges, shells and closed, and what
/// faults.hpp counts.
void mend_windings(Surface& surface, ModelFacts& facts);

}  // namespace rakelight
