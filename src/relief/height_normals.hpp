#pragma once
// Which way a height map faces.

#include "image/plane.hpp"

namespace rakelight {

/// Unit normals, +x right, +y up, +z to the viewer.
struct HeightNormals {
    Plane x, y, z;
};

/// By central differences, one-sided at the picture's edge.
/// @param height_mm   rows from the top
/// @param px_per_mm   > 0
HeightNormals normals_of(const Plane& height_mm, double px_per_mm);

}  // namespace rakelight
