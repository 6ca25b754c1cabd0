#pragma once
// Private to render/: a mesh in the GPU's memory.

#include <cstdint>
#include <functional>
#include <vector>

#include "render/clusters.hpp"
#include "render/gl_objects.hpp"

namespace rakelight {

/// Consecutive triangles; as shaders/bin.comp reads it.
struct TriangleRun {
    std::uint32_t first_triangle;
    std::uint32_t count;
};

class GpuMesh {
public:
    /// @param used  one flag per part of the mesh: draw it
    GpuMesh(const Mesh& mesh, const std::vector<bool>& used);

    /// Clusters of the parts that are drawn.
    const std::vector<Cluster>& clusters() const { return drawn_.clusters; }

    /// The buffers themselves: Vertex of model/mesh.hpp, three indices a triangle.
    const Buffer& vertices() const { return vertices_; }
    const Buffer& indices() const { return indices_; }
    std::uint32_t vertex_count() const { return vertex_count_; }
    std::uint32_t triangle_count() const { return triangle_count_; }
    /// Some parts show what is stored for others: only draw() knows where.
    bool has_copies() const { return !mesh_.copies().empty(); }
    const std::vector<std::uint32_t>& part_starts() const { return part_starts_; }

    /// The clusters that may be seen inside the box.
    std::vector<TriangleRun> runs_within(const Camera& camera, const BlankBox& box) const;

    /// Draws what may be seen inside the box with the current program, near clusters first, so that
    /// what they hide is not shaded.
    /// @param part_location  uniform that takes a part's number plus one before its triangles are
    ///                       drawn; -1: not asked for
    /// @param set_camera  called with the camera for triangles where they are stored, before they
    ///                    are drawn, whenever it changes; at first it is `camera` already
    void draw(const Camera& camera, const BlankBox& box, int part_location,
              const std::function<void(const Camera&)>& set_camera) const;

private:
    std::uint32_t stored_first(std::size_t cluster) const;
    std::vector<std::size_t> near_first(const Camera& camera, const BlankBox& box) const;

    Mesh mesh_;
    VertexArray vertex_array_;
    Buffer vertices_;
    Buffer indices_;
    DrawnClusters drawn_;
    std::vector<std::uint32_t> part_starts_;
    std::uint32_t vertex_count_;
    std::uint32_t triangle_count_;
};

}  // namespace rakelight
