#pragma once
// The points of a model that a picture shows: all that framing has to know of its mesh.

#include <vector>

#include <glm/glm.hpp>

#include "model/mesh.hpp"

namespace rakelight {

/// What is framed, in the file's own axes and units. Made once for a model; every pose is framed
/// with it.
struct Subject {
    glm::dvec3 centre{0.0};  ///< of the bounding box of the parts in use
    /// Their points, in the mesh's order, less those that lie strictly inside the convex hull of
    /// the others: no pose shows one of these on the outline, nearest or farthest.
    std::vector<glm::dvec3> points;
};

/// @param used  one flag per part, at least one of them set
Subject subject_of(const Mesh& mesh, const std::vector<bool>& used);

}  // namespace rakelight
