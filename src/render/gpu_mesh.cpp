#include "render/gpu_mesh.hpp"

#include <algorithm>
#include <cstddef>
#include <limits>

namespace rakelight {
namespace {

// Consecutive runs of triangles, joined while they touch, drawn in one call.
class DrawList {
public:
    void add(std::uint32_t first_triangle, std::uint32_t count) {
        const auto* start = reinterpret_cast<const void*>(std::uintptr_t{12} * first_triangle);
        if (!counts_.empty() && first_triangle == end_) {
            counts_.back() += static_cast<GLsizei>(3 * count);
        } else {
            counts_.push_back(static_cast<GLsizei>(3 * count));
            starts_.push_back(start);
        }
        end_ = first_triangle + count;
    }
    void draw() {
        if (!counts_.empty()) {
            glMultiDrawElements(GL_TRIANGLES, counts_.data(), GL_UNSIGNED_INT, starts_.data(),
                                static_cast<GLsizei>(counts_.size()));
        }
        counts_.clear();
        starts_.clear();
    }

private:
    std::vector<GLsizei> counts_;
    std::vector<const void*> starts_;
    std::uint32_t end_ = 0;
};

}  // namespace

GpuMesh::GpuMesh(const Mesh& mesh, const std::vector<bool>& used)
    : mesh_(mesh),
      drawn_(drawn_clusters(mesh, used)),
      vertex_count_(static_cast<std::uint32_t>(mesh.vertices().size())),
      triangle_count_(static_cast<std::uint32_t>(mesh.indices().size() / 3)) {
    for (const auto& part : mesh.parts()) part_starts_.push_back(part.first_triangle);
    glBindVertexArray(vertex_array_.name());
    glBindBuffer(GL_ARRAY_BUFFER, vertices_.name());
    glBufferData(GL_ARRAY_BUFFER, static_cast<GLsizeiptr>(mesh.vertices().size_bytes()),
                 mesh.vertices().data(), GL_STATIC_DRAW);
    glBindBuffer(GL_ELEMENT_ARRAY_BUFFER, indices_.name());
    glBufferData(GL_ELEMENT_ARRAY_BUFFER, static_cast<GLsizeiptr>(mesh.indices().size_bytes()),
                 mesh.indices().data(), GL_STATIC_DRAW);
    const auto at = [](std::size_t offset) { return reinterpret_cast<const void*>(offset); };
    glVertexAttribPointer(0, 3, GL_FLOAT, GL_FALSE, sizeof(Vertex), at(offsetof(Vertex, position)));
    glVertexAttribPointer(1, 2, GL_SHORT, GL_TRUE, sizeof(Vertex), at(offsetof(Vertex, normal)));
    glEnableVertexAttribArray(0);
    glEnableVertexAttribArray(1);
    check_gl("uploading the mesh");
}

std::vector<TriangleRun> GpuMesh::runs_within(const Camera& camera, const BlankBox& box) const {
    std::vector<TriangleRun> runs;
    for (const auto& cluster : drawn_.clusters) {
        if (!overlap(projected_box(cluster, camera), box)) continue;
        runs.push_back({cluster.first_triangle, cluster.triangle_count});
    }
    return runs;
}

std::vector<std::size_t> GpuMesh::near_first(const Camera& camera, const BlankBox& box) const {
    struct Seen {
        double nearest_mm;
        std::size_t index;
    };
    std::vector<Seen> seen;
    for (std::size_t i = 0; i < drawn_.clusters.size(); ++i) {
        if (!overlap(projected_box(drawn_.clusters[i], camera), box)) continue;
        seen.push_back({view_range(drawn_.clusters[i], camera).high_mm, i});
    }
    std::sort(seen.begin(), seen.end(), [](const Seen& a, const Seen& b) {
        return a.nearest_mm != b.nearest_mm ? a.nearest_mm > b.nearest_mm : a.index < b.index;
    });
    std::vector<std::size_t> order;
    for (const auto& entry : seen) order.push_back(entry.index);
    return order;
}

std::uint32_t GpuMesh::stored_first(std::size_t cluster) const {
    const Part& part = mesh_.parts()[drawn_.parts[cluster]];
    const std::uint32_t first = drawn_.clusters[cluster].first_triangle;
    if (part.copy == no_copy) return first;
    const Part& stored = mesh_.parts()[mesh_.copies()[part.copy].of];
    return first - part.first_triangle + stored.first_triangle;
}

void GpuMesh::draw(const Camera& camera, const BlankBox& box, int part_location,
                   const std::function<void(const Camera&)>& set_camera) const {
    glBindVertexArray(vertex_array_.name());
    DrawList list;
    std::uint32_t part = std::numeric_limits<std::uint32_t>::max();
    std::uint32_t copy = no_copy;
    for (const std::size_t i : near_first(camera, box)) {
        const std::uint32_t copy_here = mesh_.parts()[drawn_.parts[i]].copy;
        const bool part_changes = part_location >= 0 && drawn_.parts[i] != part;
        if (part_changes || copy_here != copy) list.draw();
        if (part_changes) glUniform1ui(part_location, (part = drawn_.parts[i]) + 1);
        if (copy_here != copy) {
            copy = copy_here;
            set_camera(copy == no_copy ? camera
                                       : camera_of_stored(camera, mesh_.copies()[copy].placement));
        }
        list.add(stored_first(i), drawn_.clusters[i].triangle_count);
    }
    list.draw();
}

}  // namespace rakelight
