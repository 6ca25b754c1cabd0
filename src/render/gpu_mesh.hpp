#pragma once
// Private to render/: a mesh in the GPU's memory.

#include <cstdint>
#include <vector>

#include "render/clusters.hpp"
#include "render/gl_objects.hpp"

namespace rakelight {

class GpuMesh {
public:
    /// @param used  one flag per part of the mesh: draw it
    GpuMesh(const Mesh& mesh, const std::vector<bool>& used);

    /// Clusters of the parts that are drawn.
    const std::vector<Cluster>& clusters() const { return drawn_.clusters; }

    /// Draws what may be seen inside the box with the current program, near clusters first, so that
    /// what they hide is not shaded.
    /// @param part_location  uniform that takes a part's number plus one before its triangles are
    ///                       drawn; -1: not asked for
    void draw(const Camera& camera, const BlankBox& box, int part_location) const;

private:
    std::vector<std::size_t> near_first(const Camera& camera, const BlankBox& box) const;

    VertexArray vertex_array_;
    Buffer vertices_;
    Buffer indices_;
    DrawnClusters drawn_;
};

}  // namespace rakelight
