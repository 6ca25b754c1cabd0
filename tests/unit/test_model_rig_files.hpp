#pragma once
// glTF 2.0 files with rigs, put together array by array.

#include <string>
#include <vector>

#include "test_model_support.hpp"

namespace model_test {

/// The arrays of a glTF file, each with its accessor.
class GltfArrays {
public:
    /// @return the number of the accessor
    /// @param type  "SCALAR", "VEC3", "VEC4", "MAT4"
    int add(const std::vector<float>& numbers, const std::string& type);
    int add(const std::vector<glm::vec3>& vectors);
    int add_joints(const std::vector<std::array<std::uint8_t, 4>>& joints);
    int add_indices(const std::vector<std::array<std::uint32_t, 3>>& triangles);
    /// "buffers", "bufferViews" and "accessors", to be put into the file's object.
    std::string text() const;

private:
    int add_bytes(const std::string& bytes, int component, std::size_t count,
                  const std::string& type, const std::string& more = {});
    std::string bytes_, views_, accessors_;
    int count_ = 0;
};

/// A file of these members; "asset" and the first scene of node 0 are added.
std::string gltf_file(const GltfArrays& arrays, const std::string& members);

/// A tube along y from 0 to 2, and for each point the share that an upper joint has in it.
struct Tube {
    Model model;
    std::vector<float> upper;  ///< from 0 at the lower end to 1 at the upper one
};
/// @param rings   of points, one above the other
/// @param around  points of a ring
Tube tube(int rings, int around);

/// What a bent tube is made with.
struct Bend {
    std::string upper_node;     ///< further members of the upper joint's node: its rotation
    std::string more;           ///< further members of the file, each with a comma before it
    std::string mesh_node;      ///< further members of the mesh's node
    float first_weight = 1.0f;  ///< both weights of each point are multiplied by this
    std::string name = R"("name":"upper",)";  ///< of the upper joint
};
/// The tube on two joints: node 0 has the mesh (node 1) and the lower joint (node 2, at the
/// origin), on which the upper one hangs (node 3, one unit above).
std::string as_bent_gltf(const Tube& tube, const Bend& bend, GltfArrays arrays = {});

}  // namespace model_test
