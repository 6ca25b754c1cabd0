#pragma once
// The flat mesh: what the import hands over and the renderer uploads. It lies in one file that is
// mapped, not parsed; the same file is the cache entry.

#include <array>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include <glm/glm.hpp>

#include "model/texture.hpp"

namespace rakelight {

struct Bounds {
    glm::dvec3 low{0.0};
    glm::dvec3 high{0.0};
    glm::dvec3 centre() const { return 0.5 * (low + high); }
    glm::dvec3 size() const { return high - low; }
};

/// A vertex as it lies in the file and in the GPU's buffer: 16 bytes.
struct Vertex {
    std::array<float, 3> position;       ///< model units; axes as in ModelFacts::up
    std::array<std::int16_t, 2> normal;  ///< unit normal, octahedral, see encode_octahedral
};
static_assert(sizeof(Vertex) == 16);

/// Unit normal to two signed 16-bit numbers by the octahedral map (Cigolle et al. 2014, "A Survey
/// of Efficient Representations for Independent Unit Vectors", JCGT 3(2)).
/// p = (x, y) / (|x| + |y| + |z|), folded to ((1 - |p.y|) sign(p.x), (1 - |p.x|) sign(p.y)) where
/// z < 0, sign(0) = 1; code = round(32767 p). Back: p = code / 32767, z = 1 - |p.x| - |p.y|, folded
/// the same way where z < 0, normalised. Worst error sqrt(18)/65534 < 6.5e-5 rad; the axes are
/// exact.
std::array<std::int16_t, 2> encode_octahedral(glm::dvec3 unit);
glm::dvec3 decode_octahedral(std::array<std::int16_t, 2> code);

inline constexpr std::uint32_t no_copy = 0xFFFFFFFF;

/// A named run of triangles. Parts follow the file's nodes and materials.
struct Part {
    std::string name;      ///< unique in the model; made so with "#2", "#3"
    std::string material;  ///< may be empty
    std::uint32_t first_triangle = 0;
    std::uint32_t triangle_count = 0;
    Bounds bounds;                     ///< model units
    std::uint32_t detail = no_detail;  ///< number in Mesh::details
    std::uint32_t copy = no_copy;  ///< number in Mesh::copies; no_copy: it has its own triangles
};

/// Where a copy stands: what is stored at p lies at linear * p + shift.
struct Placement {
    glm::dmat3 linear{1.0};  ///< a turn and a scale, never mirrored
    glm::dvec3 shift{0.0};   ///< model units
    glm::dvec3 at(const glm::dvec3& stored) const { return linear * stored + shift; }
};

/// A part that shows another one's triangles again, elsewhere.
struct PartCopy {
    std::uint32_t of = 0;  ///< number of the part that has them
    Placement placement;
    std::uint32_t first_vertex = 0;  ///< of those of Mesh::vertices that it shows
    std::uint32_t vertex_count = 0;
    std::uint32_t first_placed = 0;  ///< number of its own first vertex: they follow the stored
                                     ///< ones, copy after copy
};

/// A run of triangles that lie near each other, at most 4096 of them, never across two parts: what
/// the renderer culls a tile by. Copies have their own.
struct Cluster {
    std::uint32_t first_triangle;
    std::uint32_t triangle_count;
    std::array<float, 3> low;
    std::array<float, 3> high;
};

/// A clip (an animation) of the file.
struct ClipFact {
    std::string name;                 ///< each once; the clip's number where the file has no name
    double from_s = 0.0, to_s = 0.0;  ///< of its first and its last key
};

/// A shape (a morph target) of the file. Several meshes may have shapes of one name.
struct ShapeFact {
    std::string name;
    double weight = 0.0;  ///< as the file stands
};

/// What can move in the file, and which moment is shown.
struct RigFacts {
    std::uint64_t bones = 0;  ///< that move a mesh
    std::vector<ClipFact> clips;
    std::vector<ShapeFact> shapes;
    std::uint64_t frames = 0;  ///< of a file of vertex frames
    std::string shown;         ///< in words; empty: nothing can move
};

/// What the import saw and mended. All counts are of the whole file, but what the file shows
/// several times counts once where its copies are not stored.
struct ModelFacts {
    std::string format;        ///< "PLY", "glTF 2.0" ...
    std::string up = "+y";     ///< as a scene file writes it; after what the importer turned
    std::string up_reason;     ///< "stated by the file" or "convention of the format" ...
    std::string front;         ///< the axis that looks at the viewer; empty: the usual one for up
    std::string front_reason;  ///< empty where front is
    double mm_per_unit = 0.0;  ///< 0: not stated; after what the importer scaled
    std::string unit_reason;
    std::string subdivision;                 ///< "catmull-clark, 4 times, ..."; empty: none
    std::string normals;                     ///< "from the file", "made", "from the file, N made"
    std::uint64_t triangles_in_file = 0;     ///< after polygons were split
    std::uint64_t dropped_degenerate = 0;    ///< no area, or an index used twice
    std::uint64_t dropped_not_finite = 0;    ///< NaN or infinite corner
    std::uint64_t dropped_lines_points = 0;  ///< primitives that have no surface
    std::uint64_t dropped_doubled = 0;       ///< on the same three points as another one
    std::uint64_t flipped_windings = 0;      ///< turned to agree with their neighbours
    std::uint64_t broken_normals = 0;        ///< corners: NaN, zero or against the face, made anew
    std::uint64_t boundary_edges = 0;        ///< edges with one triangle (positions welded)
    std::uint64_t crowded_edges = 0;         ///< edges with more than two triangles
    std::uint64_t borders = 0;               ///< runs of boundary edges: holes, edges of sheets
    std::uint64_t t_junctions = 0;           ///< border points within another border edge
    std::uint64_t spikes = 0;                ///< points that stand out from a small ring
    std::uint64_t inner_shells = 0;          ///< closed pieces inside another solid one
    std::uint64_t shells = 0;                ///< separate pieces, connected through edges
    bool closed = false;                     ///< every edge has exactly two triangles
    RigFacts rig;
    std::vector<TextureFact> textures;  ///< each use of a picture, read or not
    std::vector<std::string> warnings;  ///< in words, ready to print
};

/// The triangles of a part where they stand.
class PartSurface {
public:
    /// @param indices  three per triangle, of the vertices
    /// @param placement  null: they stand where they are stored
    PartSurface(std::span<const Vertex> vertices, std::span<const std::uint32_t> indices,
                const Placement* placement)
        : vertices_(vertices), indices_(indices), placement_(placement) {}

    std::span<const std::uint32_t> indices() const { return indices_; }
    /// Model units.
    glm::dvec3 point(std::uint32_t index) const {
        const auto& p = vertices_[index].position;
        const glm::dvec3 stored(p[0], p[1], p[2]);
        return placement_ == nullptr ? stored : placement_->at(stored);
    }
    /// @param triangle  counted within the part
    std::array<glm::dvec3, 3> corners(std::size_t triangle) const {
        const std::uint32_t* index = &indices_[3 * triangle];
        return {point(index[0]), point(index[1]), point(index[2])};
    }

private:
    std::span<const Vertex> vertices_;
    std::span<const std::uint32_t> indices_;
    const Placement* placement_;
};

/// A mapped flat mesh file. Cheap to move, read-only, valid as long as it lives, even when the
/// cache evicts the file meanwhile.
class Mesh {
public:
    struct Mapping;  // private to model/
    explicit Mesh(std::shared_ptr<const Mapping> mapping);

    /// What is stored: each vertex belongs to some triangle; three indices per triangle,
    /// counter-clockwise out. The triangles of the parts that are no copies, in their order.
    std::span<const Vertex> vertices() const;
    std::span<const std::uint32_t> indices() const;
    std::span<const Part> parts() const;  ///< those with triangles of their own before all copies
    std::span<const PartCopy> copies() const;
    /// Of all parts, copies too.
    std::uint32_t triangle_count() const;
    std::uint32_t vertex_count() const;
    PartSurface surface(std::size_t part) const;
    std::span<const Cluster> clusters() const;  ///< in the order of their triangles
    /// Surface detail; all of it is empty where no part has any.
    std::span<const DetailVertex> detail_vertices() const;  ///< as long as vertices
    std::span<const SurfaceDetail> details() const;
    std::span<const TexturePlane> planes() const;
    std::span<const std::int16_t> texels() const;  ///< of all planes
    const ModelFacts& facts() const;
    const Bounds& bounds() const;  ///< of all triangles, model units
    /// "xxh3:" and 32 hex digits: XXH3-128 of the model's file, or of a list of the hashes of it
    /// and its side files where it has any.
    const std::string& hash() const;
    std::uint64_t file_bytes() const;  ///< of the model's file(s)
    /// The files beside the model's own that were read with it (materials, buffers, pictures, and
    /// their like), relative to its folder where they lie in it, sorted.
    std::vector<std::filesystem::path> side_files() const;
    bool from_cache() const;
    /// Whether both are the same mapping: one mesh that was loaded once.
    bool same_as(const Mesh& other) const { return mapping_ == other.mapping_; }

private:
    std::shared_ptr<const Mapping> mapping_;
};

}  // namespace rakelight
