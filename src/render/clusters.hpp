#pragma once
// Private to render/: the runs of triangles that a picture is culled by.

#include <cstdint>
#include <vector>

#include "framing/camera.hpp"
#include "model/mesh.hpp"

namespace rakelight {

/// The clusters of the parts that are drawn, each with its part's number.
struct DrawnClusters {
    std::vector<Cluster> clusters;
    std::vector<std::uint32_t> parts;
};

/// The number of the part that a triangle belongs to.
std::uint32_t part_of(const Mesh& mesh, std::uint32_t triangle);

/// @param used  one flag per part of the mesh: draw it
DrawnClusters drawn_clusters(const Mesh& mesh, const std::vector<bool>& used);

/// The camera for what a copy shows, where it is stored: its view_mm leads to where the copy is
/// seen. Its view_from_model turns and scales, so that directions come out longer or shorter.
Camera camera_of_stored(const Camera& camera, const Placement& placement);

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

bool overlap(const BlankBox& a, const BlankBox& b);

}  // namespace rakelight
