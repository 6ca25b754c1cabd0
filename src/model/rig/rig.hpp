#pragma once
// What moves in a model: nodes, bones, shapes (morph targets) and clips (animations), taken over
// from the importer with all that a hostile file may hold sorted out. Private to model/.

#include <assimp/scene.h>

#include <cstdint>
#include <string>
#include <vector>

#include <glm/glm.hpp>

#include "model/rig/tracks.hpp"
#include "model/soup.hpp"

namespace rakelight {

struct RigNode {
    const aiNode* node;
    std::uint32_t parent;  ///< index of an earlier node; no_index: none
    std::uint32_t depth;   ///< nodes above it
    glm::dmat4 parent_from_node;
};

struct Bone {
    std::uint32_t node;  ///< no_index: the file has none, or its matrix is no number
    glm::dmat4 bone_from_mesh;
};

/// A morph target of a mesh.
struct Shape {
    std::string name;
    double weight;  ///< as the file stands
};

/// A node's mesh.
struct Instance {
    std::uint32_t node_index;
    const aiNode* node;
    const aiMesh* mesh;
    std::vector<Bone> bones;    ///< as aiMesh::mBones
    std::vector<Shape> shapes;  ///< as aiMesh::mAnimMeshes
};

/// How a node moves; a track without keys leaves what the node has.
struct NodeTrack {
    std::uint32_t node;
    Track<glm::dvec3> place;
    Track<glm::dquat> turn;
    Track<glm::dvec3> scale;
};

/// How the weight of a shape changes, on all meshes of a node.
struct ShapeTrack {
    std::uint32_t node;
    std::uint32_t shape;
    Track<double> weight;
};

struct Clip {
    std::string name;  ///< one of its own; the clip's number, from 1, where the file has no name
    double from_s = 0.0, to_s = 0.0;  ///< of the first and of the last key
    std::vector<NodeTrack> nodes;
    std::vector<ShapeTrack> shapes;
};

struct Rig {
    glm::dmat4 model_from_file{1.0};  ///< for files whose axes are left-handed
    std::vector<RigNode> nodes;       ///< parents before their children
    std::vector<Instance> instances;
    std::vector<Clip> clips;
};

glm::dmat4 to_glm(const aiMatrix4x4& m);
bool is_finite(const glm::dmat4& m);

/// A name as it may be printed: control characters replaced; empty where it is one that the
/// importer made up ("<STL_BINARY>", "$ColladaAutoName$_4").
std::string usable_name(const aiString& name);

/// Throws Error(bad_model) when a node names a mesh that does not exist.
/// @param format  as ModelFacts has it; for what the importer does to the weights of shapes
Rig make_rig(const aiScene& scene, const std::string& format);

/// Sets from_s and to_s by the keys. Tracks of a single key state a pose, not a time: they count
/// only where there are no others.
void measure(Clip& clip);

}  // namespace rakelight
