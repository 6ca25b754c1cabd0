#pragma once
// Small models as text and bytes, and folders that vanish with their test.

#include <array>
#include <cstdint>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include <glm/glm.hpp>

#include "model/load.hpp"

namespace model_test {

/// A new folder under the system's folder for temporary files, removed with all it holds.
class TemporaryFolder {
public:
    TemporaryFolder();
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    ~TemporaryFolder();
    std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
    const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

void write(const std::filesystem::path& file, const std::string& bytes);
std::string read(const std::filesystem::path& file);

struct Model {
    std::vector<glm::vec3> points;
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::vector<glm::vec3> normals;  ///< empty, or one per point
};

/// An axis-aligned box of 12 triangles, wound outward.
Model box(glm::vec3 low, glm::vec3 high);
/// The tetrahedron with right angles at the origin and legs of 1.
Model tetrahedron();
/// Twenty triangles, each cut into four `times` times; all points lie on the sphere.
Model sphere(double radius, int times);
Model together(const Model& a, const Model& b);
void turn(Model& model, std::size_t triangle);

std::string as_ply(const Model& model);
std::string as_binary_ply(const Model& model);
std::string as_obj(const Model& model);
std::string as_stl(const Model& model);
std::string as_binary_stl(const Model& model);
/// The buffer of as_gltf: points, then indices, then normals.
std::string gltf_buffer(const Model& model);
/// @param uri   of the buffer: a file's name, or empty for the buffer itself in base64
/// @param node  further members of the only node, such as R"("scale": [-1, 1, 1])"
std::string as_gltf(const Model& model, const std::string& uri, const std::string& node = {});

/// A COLLADA 1.4.1 document with one geometry "g".
struct Collada {
    std::string asset;                                ///< what stands in <asset>
    std::string points = "0 0 0 1 0 0 0 1 0 0 0 1";   ///< x y z of each
    std::string corners = "0 2 1 0 1 3 0 3 2 1 2 3";  ///< three for each triangle
    /// Of the only scene.
    std::string nodes = R"(<node id="n" name="piece"><instance_geometry url="#g"/></node>)";
};
std::string as_collada(const Collada& document);
/// A zip archive of these entries, names and bytes, deflated (APPNOTE 6.3, sections 4.3.7
/// to 4.3.16).
std::string as_zip(const std::vector<std::pair<std::string, std::string>>& entries);

/// Loads without a cache.
rakelight::LoadOptions no_cache();
/// Writes the model as binary PLY and loads it without a cache.
rakelight::Mesh load(const Model& model, rakelight::LoadOptions options = no_cache());

/// The message of the Error(bad_model) that loading throws; "no error" or "another error: ..."
/// otherwise.
std::string bad_model_message(const std::filesystem::path& file,
                              const rakelight::LoadOptions& options = no_cache());

/// Area-weighted normal of a triangle of the mesh, in double, as the indices wind it.
glm::dvec3 winding_normal(const rakelight::Mesh& mesh, std::size_t triangle);
glm::dvec3 position(const rakelight::Vertex& vertex);
/// Of a closed mesh, by the divergence theorem; positive where it is wound outward.
double volume(const rakelight::Mesh& mesh);
double volume(const rakelight::Mesh& mesh, const rakelight::Part& part);

/// The octahedral code's worst error, rad; derived beside its check in test_model_normals.cpp.
inline constexpr double code_error_rad = 6.5e-5;

}  // namespace model_test
