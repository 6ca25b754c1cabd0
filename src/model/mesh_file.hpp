#pragma once
// The flat mesh file: written once, then only mapped. It serves one machine and one version of the
// program; it is no format to exchange. Private to model/.
//
//   header     FileHeader
//   JSON       parts, copies, facts, side files, hash of the model
//   vertices   Vertex[vertex_count]
//   indices    uint32[index_count]
//   clusters   Cluster[cluster_count]
//   details    DetailVertex[vertex_count], and int16[texel_count]; where no part has pictures, none
//
// Each section starts at a multiple of 64 bytes. Numbers are in the byte order of the machine.

#include <cstdint>
#include <memory>
#include <span>

#include "model/flat_mesh.hpp"
#include "model/mesh.hpp"

namespace rakelight {

/// Raised whenever the layout or the meaning of anything in the file changes.
inline constexpr std::uint32_t mesh_file_version = 11;

/// A flat mesh file in memory.
struct Mesh::Mapping {
    Mapping(void* base_, std::size_t size_) : base(base_), size(size_) {}
    Mapping(const Mapping&) = delete;
    Mapping& operator=(const Mapping&) = delete;
    ~Mapping();

    void* base;
    std::size_t size;
    std::span<const Vertex> vertices;
    std::span<const std::uint32_t> indices;
    std::span<const Cluster> clusters;
    std::span<const DetailVertex> detail_vertices;
    std::span<const std::int16_t> texels;
    std::vector<SurfaceDetail> details;
    std::vector<TexturePlane> planes;
    std::vector<Part> parts;
    std::vector<PartCopy> copies;
    std::uint32_t triangle_count = 0;  ///< copies too
    std::uint32_t vertex_count = 0;
    Bounds bounds;
    ModelFacts facts;
    std::vector<SideFile> side_files;
    std::string hash;
    std::uint64_t file_bytes = 0;
    bool from_cache = false;
};

/// Writes from the descriptor's start. Throws std::system_error when it cannot be written.
void write_mesh_file(int descriptor, const FlatMesh& mesh);

/// Maps and checks a flat mesh file in full: lengths, checksums, ranges of all indices. Null when
/// the file is cut short, altered, of another version or no flat mesh file at all. Needs the
/// descriptor no longer once it returned.
std::shared_ptr<Mesh::Mapping> map_mesh_file(int descriptor);

}  // namespace rakelight
