#pragma once
// Normals at the corners, and the vertices that follow from them. Private to model/.

#include "model/repair/surface.hpp"
#include "scene/scene.hpp"

namespace rakelight {

struct Shaded {
    Array<Vertex> vertices;        ///< no two are equal; in the order of the surface's points
    Array<std::uint32_t> indices;  ///< per corner of the surface
    Array<DetailVertex> detail_vertices;  ///< as long as vertices, or empty; tangents are not set
};

/// Gives every corner a normal that is on the side of its triangle's winding, and shares vertices
/// whose point, normal code and, where there are pictures, place on them agree. Fills `normals` and
/// `broken_normals` in the facts, which have the crowded edges. The surface's points are read to the
/// last; all else of it and of the soup is used up before the result is put together.
/// @param crease_deg  made normals only: faces that meet at more than this stay sharp
Shaded shade(Soup&& soup, Surface&& surface, NormalSource source, double crease_deg,
             ModelFacts& facts);

}  // namespace rakelight
