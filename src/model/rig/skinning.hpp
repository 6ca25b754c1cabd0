#pragma once
// A mesh at its place: shaped by its morph targets, moved by its bones. Private to model/.

#include <vector>

#include <glm/glm.hpp>

#include "model/rig/rig.hpp"

namespace rakelight {

/// How an instance is to be shown.
struct MeshPose {
    glm::dmat4 model_from_mesh{1.0};  ///< of what no bone moves
    std::vector<glm::dmat4> by_bone;  ///< model_from_mesh of each bone; empty: no bone moves it
    std::vector<double> weights;      ///< of each shape
};

/// What came of it.
struct PlacedMesh {
    bool mirrored = false;     ///< most of it is turned inside out
    bool has_normals = false;  ///< false too when a shape that shows has none
};

/// Linear blend skinning: glTF 2.0 specification, 3.7.3.3; the weights of a vertex are brought to a
/// sum of 1. Weights that are negative or no number, and those of vertices that do not exist, count
/// nothing; a vertex that is left with none goes where the mesh's node is.
/// Shapes: 3.7.2.2; COLLADA 1.4.1 specification, <morph>, where its method is RELATIVE.
/// @param positions  mesh.mNumVertices, written
/// @param normals    as many, written where the mesh has normals; null: nobody asks
PlacedMesh place_mesh(const Instance& instance, const MeshPose& pose, glm::vec3* positions,
                      glm::vec3* normals);

}  // namespace rakelight
