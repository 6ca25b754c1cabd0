#pragma once
// Subdivision: a coarse mesh that was modelled as the cage of a smooth surface becomes that
// surface. Catmull and Clark 1978, "Recursively generated B-spline surfaces on arbitrary
// topological meshes"; Loop 1987, "Smooth Subdivision Surfaces Based on Triangles". Private to
// model/.

#include <cstdint>

#include "model/soup.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// The most that it takes, in bytes, to make triangles smooth that many times: those of a cage of
/// polygons, which are fewer.
std::uint64_t subdivision_bytes(std::uint64_t triangles, CageRule rule, int times);

/// The limit surface of the soup's polygons, in triangles; its corners lie on the limit itself.
/// Parts of one name are one surface and join without a gap. Where a part ends it follows its
/// border: a cubic curve through the middle of the border's edges, corners of one polygon kept.
/// Loop's rule takes triangles: larger polygons are split from their first corner.
/// @param soup  with `fans`; its normals, which are the cage's, are dropped
/// Throws Error(bad_model) without a file name when the polygons make no surface, or when what they
/// would become does not fit the memory that this process may take.
Soup subdivide(Soup&& soup, const CageSettings& settings);

}  // namespace rakelight
