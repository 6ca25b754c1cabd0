#pragma once
// Private to render/: a mesh in the GPU's memory.

#include <cstdint>
#include <vector>

#include "framing/camera.hpp"
#include "model/mesh.hpp"
#include "render/gl_objects.hpp"

namespace rakelight {

/// A half-open box of the blank's plane, mm.
struct BlankBox {
    glm::dvec2 low{0.0};
    glm::dvec2 high{0.0};
};

/// Where a camera sees a cluster; conservative in perspective.
BlankBox projected_box(const Cluster& cluster, const Camera& camera);

/// The view z that a cluster spans, mm; conservative.
struct ViewRange {
    double low_mm;
    double high_mm;
};
ViewRange view_range(const Cluster& cluster, const Camera& camera);

class GpuMesh {
public:
    /// @param used  one flag per part of the mesh: draw it
    GpuMesh(const Mesh& mesh, const std::vector<bool>& used);

    /// Clusters of the parts that are drawn.
    const std::vector<Cluster>& clusters() const { return clusters_; }

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
    std::vector<Cluster> clusters_;
    std::vector<std::uint32_t> cluster_parts_;
};

}  // namespace rakelight
