#pragma once
// Small solids, scenes to put them in, and what a framing makes of them.

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <glm/glm.hpp>

#include "error.hpp"
#include "framing/frame.hpp"
#include "model/load.hpp"

namespace framing_test {

struct Solid {
    std::vector<glm::dvec3> points;  ///< written as floats
    std::vector<std::array<std::uint32_t, 3>> triangles;
};

/// A box about the origin.
Solid box(glm::dvec3 half);
/// A flat polygon in the plane z = 0, corners counter-clockwise.
Solid plate(const std::vector<glm::dvec2>& corners);
/// Rings of points on a sphere about the z axis, `rings` from pole to pole, four times as many
/// points on the equator; one point lies on each of +x, -x, +y and -y.
Solid sphere(double radius, int rings);
/// Triangles that use each of the points.
Solid fan(std::vector<glm::dvec3> points);
/// Each point replaced.
Solid mapped(Solid solid, const std::function<glm::dvec3(glm::dvec3)>& map);
Solid moved(Solid solid, glm::dvec3 by);

/// The solid as load_model reads it from a file, without a cache.
rakelight::Mesh mesh_of(const Solid& solid);
/// A file of that name as load_model reads it.
rakelight::Mesh loaded(const std::string& name, const std::string& text);
/// One part for each name, from an OBJ file.
rakelight::Mesh mesh_of_parts(const std::vector<std::string>& names);

rakelight::BlankSettings round_blank(double width_mm);
rakelight::BlankSettings oval(double width_mm, double height_mm);
rakelight::BlankSettings rectangle(double width_mm, double height_mm, double corner_mm);
rakelight::BlankSettings tag(double width_mm, double height_mm);

/// A scene with the blank, up = +y, and a margin of 0.
rakelight::Scene scene_on(const rakelight::BlankSettings& blank);
rakelight::Framing framed(const rakelight::Scene& scene, const rakelight::Mesh& mesh);

/// The mesh's vertices on the blank, by the formula of camera.hpp written out once more.
std::vector<glm::dvec2> places(const rakelight::Camera& camera, const rakelight::Mesh& mesh);

/// What a call throws; fails when it throws nothing.
rakelight::Error error_of(const std::function<void()>& call);
bool contains(const std::string& text, const std::string& part);

/// Pseudo-random numbers that are the same with every standard library.
class Random {
public:
    explicit Random(std::uint64_t seed) : state_(seed * 2654435769U + 88172645463325252U) {}
    double between(double low, double high);
    int whole(int low, int high);  ///< both included
    glm::dvec2 in_square(double half) { return {between(-half, half), between(-half, half)}; }
    glm::dvec2 direction();

private:
    std::uint64_t state_;
};

}  // namespace framing_test
