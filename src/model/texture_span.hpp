#pragma once
// How pictures lie on the triangles of a model. Private to model/.

#include "model/readers/texture_planes.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// How a triangle's surface changes with the place (s, t) on its pictures.
struct PlaceFrame {
    glm::dvec3 along_s{0.0};  ///< model units per s, on the surface
    glm::dvec3 along_t{0.0};
    double area = 0.0;         ///< of the triangle, model units squared
    double signed_area = 0.0;  ///< on the picture; 0: the frame is not known
};

PlaceFrame frame_of(const std::array<glm::dvec3, 3>& corners,
                    const std::array<glm::dvec2, 3>& places);

/// Of all triangles with that detail.
MapSpan span_of(const Soup& soup, std::uint32_t detail, const DetailMap& map);

struct FlatMesh;

/// Gives a mesh with details its tangents: the mean over the triangles at a vertex, weighted by
/// their angles there (as M. S. Mikkelsen 2008, "Simulation of Wrinkled Surfaces Revisited", which
/// glTF names; his way of joining vertices is not followed to the letter).
/// Sets the tangents of mesh.detail_vertices, whose places and sides stand.
void add_tangents(FlatMesh& mesh);

}  // namespace rakelight
