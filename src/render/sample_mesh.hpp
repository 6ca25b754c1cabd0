#pragma once
// Private to render/: a mesh as a camera sees it, on the grid of samples; what the raster on the
// processor works on.
//
// Sample space: x to the right, y downwards, from the work area's top left corner, in sub-samples:
// sub_samples of them are one sample. Sample (i, j) lies at ((i + 0.5), (j + 0.5)) * sub_samples.

#include <algorithm>
#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "render/clusters.hpp"
#include "render/surface_detail.hpp"
#include "render/work_area.hpp"
#include "unset.hpp"

namespace rakelight {

/// Corners lie on this grid: a silhouette is exact to 1/2048 of a sample.
inline constexpr int sub_samples = 1024;

/// What lies farther from the work area is cut off there, so that products of two lengths fit
/// 64 bits. A work area must be smaller: 131,072 px a side at four samples an axis.
inline constexpr std::int64_t most_sub_samples = std::int64_t{1} << 29;

/// A corner of a triangle.
struct SampleVertex {
    std::int32_t x;  ///< sub-samples
    std::int32_t y;
    float nearness;  ///< larger is nearer, linear over the picture; see SampleMesh::eye_lift_mm
    std::array<float, 3> normal;  ///< view space, of any length
};

/// A corner's place on its pictures and its tangent in view space, each times w, so that they are
/// linear over the picture; w is 1 in a parallel projection.
struct DetailCorner {
    double s = 0.0;
    double t = 0.0;
    double w = 1.0;
    glm::dvec3 tangent{0.0};
};

/// Names a triangle of a SampleMesh: its number in the mesh, or of a piece that was cut.
using TriangleRef = std::uint32_t;

/// The drawn triangles of a mesh, ready to be put on samples. Cheap to ask, read-only.
class SampleMesh {
public:
    /// Transforms every vertex once, on all cores.
    /// @param mesh, drawn  must outlive this
    /// @param detail  the mesh's pictures, or null; must outlive this
    SampleMesh(const Mesh& mesh, const DrawnClusters& drawn, const Camera& camera,
               const ImageGrid& grid, const WorkArea& area, int samples,
               const MeshDetail* detail = nullptr);

    /// Calls take(ref) for each triangle of a cluster, in their order. One that leaves the space of
    /// numbers, or comes nearer than the work area's top, is cut into what is left of it.
    /// @param cluster  its index among the drawn ones
    template <typename Take>
    void for_triangles(std::size_t cluster, const Take& take) const;

    std::array<const SampleVertex*, 3> corners(TriangleRef ref) const;
    std::uint32_t part(TriangleRef ref) const;
    /// Its number in the mesh; of a piece, that of what it was cut from.
    std::size_t triangle(TriangleRef ref) const;

    const MeshDetail* detail() const { return detail_; }
    /// Of a corner that corners() gave, when there is detail.
    const DetailCorner& detail_corner(const SampleVertex* corner) const {
        return detail_corners_[static_cast<std::size_t>(corner - vertices_.data())];
    }

    bool perspective() const { return camera_.projection == Projection::perspective; }
    const Camera& camera() const { return camera_; }

    /// Nearness to lift over the floor, mm. Parallel: they are the same. Perspective: nearness n is
    /// lift / (distance from the eye along the view axis), linear over the picture and as exact as
    /// the lift itself, which is eye_lift_mm * n / (1 + n).
    float eye_lift_mm() const { return eye_lift_mm_; }

private:
    struct Seen {
        glm::dvec2 at;  ///< sub-samples
        double nearness;
        glm::dvec3 normal;      ///< times what makes it linear over the picture
        DetailCorner detail{};  ///< of pieces only
    };
    // Vertices that stand to the camera alike: those that are stored, or those of a copy.
    struct Run {
        std::uint32_t first;         // its first vertex here
        std::uint32_t first_stored;  // the same one in the mesh
        std::uint32_t count;
        Camera camera;  // of where they are stored
    };
    // Where a triangle's corners are found: its three indices, and what is added to each.
    struct Indices {
        const std::uint32_t* index;
        std::uint32_t shift;
        std::uint32_t operator[](std::size_t k) const { return index[k] + shift; }
    };
    Indices indices_of(std::size_t triangle) const;
    Indices copied_indices_of(std::size_t triangle) const;
    const Run& run_of(std::uint32_t vertex) const;
    void find_runs();
    template <typename Take>
    void for_bands(const Take& take) const;
    bool place_vertices(const Run& run, std::uint32_t first, std::uint32_t end);
    void place_details(const Run& run, std::uint32_t first, std::uint32_t end);
    DetailCorner detail_of(const Run& run, std::uint32_t vertex) const;
    glm::dvec3 view_mm(const Run& run, std::uint32_t vertex) const;
    glm::dvec3 normal_view(const Run& run, std::uint32_t vertex) const;
    double linear_factor(double z_mm) const;
    Seen see(glm::dvec3 view_mm, glm::dvec3 normal) const;
    bool whole(const Seen& seen, double z_mm) const;
    SampleVertex place(const Seen& seen) const;
    bool is_placed(std::size_t triangle) const;
    void cut_clusters();
    std::vector<Seen> cut(std::size_t triangle) const;

    // A piece of a triangle that had to be cut: three of the vertices after the mesh's own.
    struct Piece {
        std::size_t of_triangle;
        std::size_t first_vertex;
    };

    const Mesh& mesh_;
    const DrawnClusters& drawn_;
    const MeshDetail* detail_;
    std::span<const Vertex> stored_;
    const std::uint32_t* indices_;
    std::size_t stored_triangles_;
    std::vector<Run> runs_;  ///< in the order of their vertices
    Camera camera_;
    double top_mm_;
    double floor_mm_;
    float eye_lift_mm_;  ///< of the eye over the floor; perspective
    double sub_samples_per_mm_;
    glm::dvec2 origin_mm_;                      ///< the work area's corner on the blank
    UnsetVector<SampleVertex> vertices_;        ///< the mesh's, copies', then those of the pieces
    std::vector<DetailCorner> detail_corners_;  ///< as many, when there is detail
    std::vector<Piece> pieces_;                 ///< in the order of their triangles
    bool all_placed_ = true;
};

/// SampleVertex::x of a corner that cannot be placed: its triangles must be cut.
inline constexpr std::int32_t not_placed = INT32_MIN;

/// Set in the TriangleRef of a piece. A mesh has fewer triangles than this.
inline constexpr TriangleRef piece_bit = 1U << 31U;

inline SampleMesh::Indices SampleMesh::indices_of(std::size_t triangle) const {
    if (triangle < stored_triangles_) return {indices_ + 3 * triangle, 0};
    return copied_indices_of(triangle);
}

inline std::array<const SampleVertex*, 3> SampleMesh::corners(TriangleRef ref) const {
    if ((ref & piece_bit) != 0) {
        const SampleVertex* first = &vertices_[pieces_[ref ^ piece_bit].first_vertex];
        return {first, first + 1, first + 2};
    }
    const Indices index = indices_of(ref);
    return {&vertices_[index[0]], &vertices_[index[1]], &vertices_[index[2]]};
}

template <typename Take>
void SampleMesh::for_triangles(std::size_t cluster, const Take& take) const {
    const Cluster& run = drawn_.clusters[cluster];
    const std::uint32_t end = run.first_triangle + run.triangle_count;
    for (std::uint32_t t = run.first_triangle; t < end; ++t) {
        if (all_placed_ || is_placed(t)) take(TriangleRef{t});
    }
    if (all_placed_) return;
    const auto before = [](const Piece& piece, std::size_t t) { return piece.of_triangle < t; };
    auto piece = std::lower_bound(pieces_.begin(), pieces_.end(), run.first_triangle, before);
    for (; piece != pieces_.end() && piece->of_triangle < end; ++piece) {
        take(piece_bit | static_cast<TriangleRef>(piece - pieces_.begin()));
    }
}

}  // namespace rakelight
