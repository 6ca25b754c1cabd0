#pragma once
// The flat mesh in memory, before it is written. Private to model/.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "model/mesh.hpp"
#include "model/repair/normals.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// A file that the importer asked for beside the model: a glTF's .bin, an OBJ's .mtl.
struct SideFile {
    std::string path;                 ///< relative to the model's folder where that is possible
    std::optional<std::string> hash;  ///< 32 hex digits; empty: it was looked for and not there
};

inline constexpr std::uint32_t most_triangles_in_cluster = 4096;

/// Everything that a flat mesh file holds.
struct FlatMesh {
    Array<Vertex> vertices;
    Array<std::uint32_t> indices;
    std::vector<Cluster> clusters;
    Array<DetailVertex> detail_vertices;  ///< as long as vertices, or empty
    std::vector<SurfaceDetail> details;
    std::vector<TexturePlane> planes;
    Array<std::int16_t> texels;
    std::vector<Part> parts;  ///< as in Mesh
    std::vector<PartCopy> copies;
    Bounds bounds;
    ModelFacts facts;
    std::vector<SideFile> side_files;
    std::string hash;              ///< of the model and its side files, see Mesh::hash
    std::uint64_t file_bytes = 0;  ///< of the model and its side files
};

/// Repeated names get "#2", "#3"; a number that is already a name of the file's own is passed over.
std::vector<std::string> unique_names(std::vector<std::string> names);

/// Sets the bounds of the parts and of the mesh by those of the clusters.
void measure_parts(FlatMesh& mesh);

/// Cuts each part into clusters and measures parts and clusters. Part names are made unique.
FlatMesh flatten(Shaded&& shaded, const std::vector<PartRange>& parts);

/// All steps from a soup to a flat mesh; only the hash, the size and the side files are left open.
/// Throws Error(bad_model) without a file name when no triangle is left.
FlatMesh build_flat_mesh(Soup&& soup, const ReadingSettings& reading);

}  // namespace rakelight
