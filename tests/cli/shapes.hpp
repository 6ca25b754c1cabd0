#pragma once
// Small models with known forms, and the files they are written to.

#include <array>
#include <cstdint>
#include <filesystem>
#include <glm/glm.hpp>
#include <string>
#include <vector>

namespace cli_test {

class Place;  // support.hpp

/// z points to the viewer when the scene says up = "+y".
struct Model {
    std::vector<glm::dvec3> points;
    std::vector<glm::dvec3> normals;  ///< empty, or one per point
    std::vector<std::array<std::uint32_t, 3>> triangles;
};

/// A flat polygon in the plane of its points, in their order, as a fan.
Model polygon(const std::vector<glm::dvec3>& corners);
/// A rectangle of half sides a and b about the origin on the plane z = slope_x x + slope_y y.
Model plate(double a, double b, double slope_x = 0.0, double slope_y = 0.0);
/// A regular polygon of n corners on a circle of radius r, in the plane z = 0.
Model disc(double r, int n);
/// Points on the sphere of radius r about the origin, each side of a cube cut n times; its normals
/// are exact.
Model sphere(double r, int n);
/// The side of a cone: n corners on the circle of radius r at z = 0, the tip at z = h.
Model cone(double r, double h, int n);
Model box(glm::dvec3 low, glm::dvec3 high);
/// A crooked thing without any symmetry, for laws: a box and a sphere that reach into each other.
Model crooked();
/// Has normals when both have.
Model joined(Model a, const Model& b);
Model moved(Model model, const glm::dmat3& turn, glm::dvec3 shift = glm::dvec3(0.0));

/// How deep the flat triangles of sphere() lie below the sphere at most: r - sqrt(r^2 - c^2) for
/// the largest circumscribed radius c of a triangle.
double sphere_sag(const Model& sphere, double r);

/// Binary, single precision.
void write_ply(const std::filesystem::path& file, const Model& model);
/// Two groups in one file, named.
void write_obj(const std::filesystem::path& file, const Model& a, const Model& b);

/// How a glTF file shows a mesh.
struct GltfNodes {
    std::vector<std::string> places;  ///< what the JSON of each node says beside name and mesh
    bool once = true;                 ///< one mesh for all nodes; else each node has its own
    std::string normal_map{};         ///< the file of a picture beside it; empty: none
};

/// With its buffer beside it, in model.bin. The model has normals; it reaches from -9 to 9 at most.
void write_gltf(const std::filesystem::path& file, const Model& model, const GltfNodes& nodes);

/// model.ply, the crooked shape, and scene.toml, which asks for the usual passes of it.
void write_crooked_scene(const Place& place);

}  // namespace cli_test
