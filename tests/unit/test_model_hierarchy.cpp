// Where the parts of a model lie: the matrices of each format's specification, computed here,
// against what is read.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <glm/gtc/matrix_transform.hpp>
#include <glm/gtc/quaternion.hpp>
#include <string>

#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

/// A part that must be there: a copy of the model, moved.
struct Copy {
    std::string name;
    glm::dmat4 model_from_part;
};

glm::dvec3 moved(const glm::dmat4& m, glm::vec3 p) {
    return glm::dvec3(m * glm::dvec4(p, 1.0));
}

const Part& part_of(const Mesh& mesh, const std::string& name) {
    for (const Part& part : mesh.parts())
        if (part.name == name) return part;
    FAIL("no part is called " << name);
    return mesh.parts()[0];
}

// Importers multiply in single precision, once per level: 2^-24 of the largest coordinate for each
// of some twenty roundings.
constexpr double roundings = 20.0 / 16777216.0;

// Every corner of the copy is a corner of the part. Its volume, positive where the windings face
// outward, is the model's by the factor that the matrix has.
void check_copy(const Mesh& mesh, const Model& model, double model_volume, const Copy& copy) {
    CAPTURE(copy.name);
    const Part& part = part_of(mesh, copy.name);
    const PartSurface surface = mesh.surface(static_cast<std::size_t>(&part - mesh.parts().data()));
    CHECK(part.triangle_count == model.triangles.size());
    double largest = 1.0;
    for (const glm::vec3& p : model.points)
        largest = std::max(largest, glm::length(moved(copy.model_from_part, p)));
    for (const glm::vec3& p : model.points) {
        const glm::dvec3 expected = moved(copy.model_from_part, p);
        double nearest = 1e300;
        for (const std::uint32_t index : surface.indices())
            nearest = std::min(nearest, glm::distance(expected, surface.point(index)));
        CHECK(nearest <= roundings * largest);
    }
    const double factor = std::abs(glm::determinant(glm::dmat3(copy.model_from_part)));
    // Six products of three coordinates for each of a few triangles.
    CHECK(volume(mesh, part) ==
          doctest::Approx(factor * model_volume).epsilon(1e-5).scale(largest * largest * largest));
}

void check_copies(const Mesh& mesh, const Model& model, double model_volume,
                  const std::vector<Copy>& copies) {
    CHECK(mesh.parts().size() == copies.size());
    CHECK(mesh.facts().flipped_windings == 0);
    for (const Copy& copy : copies) check_copy(mesh, model, model_volume, copy);
}

glm::dmat4 translation(double x, double y, double z) {
    return glm::translate(glm::dmat4(1.0), glm::dvec3(x, y, z));
}
glm::dmat4 scaling(double x, double y, double z) {
    return glm::scale(glm::dmat4(1.0), glm::dvec3(x, y, z));
}
glm::dmat4 turn(double degrees, glm::dvec3 axis) {
    return glm::rotate(glm::dmat4(1.0), glm::radians(degrees), axis);
}

constexpr double tetrahedron_volume = 1.0 / 6.0;

}  // namespace

// glTF 2.0 specification, section 3.5.3: a node's local transform is its matrix, column by column,
// or T * R * S; its global one is its parent's global times its own. Section 3.7.4: where the
// determinant is negative, the windings are reversed.
TEST_CASE("glTF: nested, mirrored and repeated nodes lie where their matrices say") {
    const TemporaryFolder folder;
    const Model model = tetrahedron();
    write(folder / "a.gltf",
          as_gltf(model, "", R"("translation":[5,0,0],"rotation":[0,0,0.7071067811865476,
0.7071067811865476],"children":[1,2]},
{"name":"child","mesh":0,"scale":[-1,2,3],"translation":[0,4,0],"children":[3]},
{"name":"other","mesh":0,"matrix":[0,0,-2,0, 0,2,0,0, 2,0,0,0, 1,2,3,1]},
{"name":"grandchild","mesh":0,"translation":[7,0,0],
"rotation":[0.5,0.5,0.5,0.5],"scale":[1,-1,1])"));
    const Mesh mesh = load_model(folder / "a.gltf", no_cache());
    const glm::dmat4 shape = translation(5, 0, 0) * turn(90, {0, 0, 1});
    const glm::dmat4 child = shape * translation(0, 4, 0) * scaling(-1, 2, 3);
    const glm::dmat4 other = shape * glm::dmat4(0, 0, -2, 0, 0, 2, 0, 0, 2, 0, 0, 0, 1, 2, 3, 1);
    // The quaternion (x, y, z, w) = 1/2 (1, 1, 1, 1).
    const glm::dmat4 grandchild = child * translation(7, 0, 0) *
                                  glm::mat4_cast(glm::dquat(0.5, 0.5, 0.5, 0.5)) *
                                  scaling(1, -1, 1);
    check_copies(
        mesh, model, tetrahedron_volume,
        {{"shape", shape}, {"child", child}, {"other", other}, {"grandchild", grandchild}});
}

// COLLADA 1.4.1 specification, <node>: the transforms stand in the order in which their matrices
// are multiplied, columns of coordinates to the right of them all. <matrix> is written row by row.
TEST_CASE("COLLADA: nested, mirrored and repeated nodes lie where their matrices say") {
    const TemporaryFolder folder;
    const std::string instance = R"(<instance_geometry url="#g"/>)";
    write(
        folder / "a.dae",
        as_collada(
            {.asset = R"(<unit name="meter" meter="1"/><up_axis>Y_UP</up_axis>)",
             .nodes =
                 R"(<node id="a" name="first"><translate>1 2 3</translate>
<rotate>0 1 0 90</rotate><scale>1 1 -2</scale>)" +
                 instance +
                 R"(<node id="b" name="second"><matrix>0 -1 0 4 1 0 0 5 0 0 1 6 0 0 0 1</matrix>)" +
                 instance + R"(</node></node><node id="c" name="third"><scale>2 1 1</scale>
<rotate>0 0 1 45</rotate>)" +
                 instance + "</node>"}));
    const Mesh mesh = load_model(folder / "a.dae", no_cache());
    const glm::dmat4 first = translation(1, 2, 3) * turn(90, {0, 1, 0}) * scaling(1, 1, -2);
    // As written, transposed to columns.
    const glm::dmat4 second =
        first * glm::transpose(glm::dmat4(0, -1, 0, 4, 1, 0, 0, 5, 0, 0, 1, 6, 0, 0, 0, 1));
    const glm::dmat4 third = scaling(2, 1, 1) * turn(45, {0, 0, 1});
    check_copies(mesh, tetrahedron(), tetrahedron_volume,
                 {{"first", first}, {"second", second}, {"third", third}});
}

// ISO/IEC 19775-1 (X3D), section 10.4.4: P' = T * C * R * SR * S * -SR * -C * P; section 4.4.3: a
// USE is the node of that DEF once more.
TEST_CASE("X3D: what is used again lies there too, and what follows it where it belongs") {
    const TemporaryFolder folder;
    const std::string shape =
        R"(<Shape><IndexedFaceSet coordIndex="0 2 1 -1 0 1 3 -1 0 3 2 -1 1 2 3 -1">
<Coordinate point="0 0 0 1 0 0 0 1 0 0 0 1"/></IndexedFaceSet></Shape>)";
    write(folder / "a.x3d", R"(<?xml version="1.0" encoding="UTF-8"?>
<X3D profile="Interchange" version="3.3"><Scene><Transform translation="10 0 0">
<Transform DEF="tooth" translation="0 5 0" scale="1 2 1">)" +
                                shape + R"(</Transform>
<Transform translation="0 0 20"><Transform USE="tooth"/></Transform>
<Transform DEF="last" rotation="0 0 1 1.5707963267948966">)" +
                                shape + R"(</Transform></Transform>
<Transform DEF="outside" translation="-30 0 0" scale="-1 1 1">)" +
                                shape + "</Transform></Scene></X3D>");
    const Mesh mesh = load_model(folder / "a.x3d", no_cache());
    const glm::dmat4 all = translation(10, 0, 0);
    const glm::dmat4 tooth = translation(0, 5, 0) * scaling(1, 2, 1);
    check_copies(mesh, tetrahedron(), tetrahedron_volume,
                 {{"tooth", all * tooth},
                  {"tooth#2", all * translation(0, 0, 20) * tooth},
                  {"last", all * turn(90, {0, 0, 1})},
                  {"outside", translation(-30, 0, 0) * scaling(-1, 1, 1)}});
}

// Normals are turned by the inverse transposed of what turns points (glTF 2.0, section 3.7.2.1
// names no other way; the identity is common knowledge). A sphere becomes an ellipsoid.
TEST_CASE("normals stand on the surface under unequal and mirroring scales") {
    Model model = sphere(1.0, 2);
    for (const glm::vec3& p : model.points) model.normals.push_back(glm::normalize(p));
    const TemporaryFolder folder;
    for (const double mirror : {1.0, -1.0}) {
        CAPTURE(mirror);
        write(folder / "a.gltf", as_gltf(model, "",
                                         std::string(R"("rotation":[0.5,0.5,0.5,0.5],"scale":[)") +
                                             (mirror < 0.0 ? "-1,2,4]" : "1,2,4]")));
        LoadOptions options = no_cache();
        options.reading.normals = NormalSource::file;
        const Mesh mesh = load_model(folder / "a.gltf", options);
        CHECK(mesh.facts().broken_normals == 0);
        const glm::dmat3 m(glm::mat4_cast(glm::dquat(0.5, 0.5, 0.5, 0.5)) * scaling(mirror, 2, 4));
        double worst = 0.0;
        for (const Vertex& vertex : mesh.vertices()) {
            const glm::dvec3 on_sphere = glm::inverse(m) * position(vertex);
            const glm::dvec3 normal = glm::normalize(glm::transpose(glm::inverse(m)) * on_sphere);
            worst = std::max(worst, glm::length(normal - decode_octahedral(vertex.normal)));
        }
        // The code's error, and single precision stretched by 4.
        CHECK(worst < code_error_rad + 4 * roundings);
    }
}
