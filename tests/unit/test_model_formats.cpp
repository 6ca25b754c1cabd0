#include <doctest/doctest.h>

#include <string>

#include "error.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

struct Expected {
    std::size_t triangles;
    glm::dvec3 low, high;
};

void check_shape(const Mesh& mesh, const Expected& expected) {
    CHECK(mesh.indices().size() == 3 * expected.triangles);
    CHECK(mesh.facts().triangles_in_file == expected.triangles);
    CHECK(mesh.facts().closed);
    CHECK(mesh.facts().shells == 1);
    CHECK(mesh.facts().flipped_windings == 0);
    CHECK(mesh.facts().warnings.empty());
    REQUIRE(mesh.parts().size() == 1);
    for (int k = 0; k < 3; ++k) {
        CHECK(mesh.bounds().low[k] == expected.low[k]);
        CHECK(mesh.bounds().high[k] == expected.high[k]);
        CHECK(mesh.parts()[0].bounds.high[k] == expected.high[k]);
    }
}

// Every format holds the same numbers, so that all bounds and counts are exact.
void check_all_formats(const Model& model, const Expected& expected) {
    const TemporaryFolder folder;
    write(folder / "ascii.ply", as_ply(model));
    write(folder / "binary.ply", as_binary_ply(model));
    write(folder / "text.obj", as_obj(model));
    write(folder / "ascii.stl", as_stl(model));
    write(folder / "binary.stl", as_binary_stl(model));
    write(folder / "embedded.gltf", as_gltf(model, ""));
    write(folder / "beside.gltf", as_gltf(model, "beside.bin"));
    write(folder / "beside.bin", gltf_buffer(model));
    for (const char* name : {"ascii.ply", "binary.ply", "text.obj", "ascii.stl", "binary.stl",
                             "embedded.gltf", "beside.gltf"}) {
        CAPTURE(name);
        check_shape(load_model(folder / name, no_cache()), expected);
    }
}

ModelFacts facts_of(const std::string& name, const std::string& bytes) {
    const TemporaryFolder folder;
    write(folder / name, bytes);
    return load_model(folder / name, no_cache()).facts();
}

}  // namespace

TEST_CASE("the same box reads the same from every format") {
    check_all_formats(box({-1, 2, 0.5}, {1, 5, 4.5}), {12, {-1, 2, 0.5}, {1, 5, 4.5}});
}

TEST_CASE("the same tetrahedron reads the same from every format") {
    check_all_formats(tetrahedron(), {4, {0, 0, 0}, {1, 1, 1}});
}

TEST_CASE("format, up axis and unit are named with their reasons") {
    const Model model = tetrahedron();
    SUBCASE("glTF 2.0 specification, section 3.4: metres, +y up") {
        const ModelFacts facts = facts_of("a.gltf", as_gltf(model, ""));
        CHECK(facts.format == "glTF 2.0");
        CHECK(facts.up == "+y");
        CHECK(facts.mm_per_unit == 1000.0);
        CHECK(facts.unit_reason == "metres, stated by the format");
    }
    SUBCASE("STL: the plate is the xy plane, in mm (common practice)") {
        const ModelFacts facts = facts_of("a.stl", as_stl(model));
        CHECK(facts.format == "STL");
        CHECK(facts.up == "+z");
        CHECK(facts.mm_per_unit == 1.0);
    }
    SUBCASE("PLY and OBJ state neither") {
        CHECK(facts_of("a.ply", as_ply(model)).mm_per_unit == 0.0);
        CHECK(facts_of("a.PLY", as_ply(model)).format == "PLY");
        const ModelFacts facts = facts_of("a.obj", as_obj(model));
        CHECK(facts.format == "OBJ");
        CHECK(facts.up == "+y");
        CHECK(facts.up_reason == "common practice; the format states no up axis");
        CHECK(facts.unit_reason == "the format states no unit");
    }
    SUBCASE("AMF (ISO/ASTM 52915): the unit of the file, packed too") {
        const auto amf = [](const std::string& unit) {
            return "<?xml version=\"1.0\"?><amf " + unit +
                   "><object id=\"0\"><mesh><vertices>"
                   "<vertex><coordinates><x>0</x><y>0</y><z>0</z></coordinates></vertex>"
                   "<vertex><coordinates><x>1</x><y>0</y><z>0</z></coordinates></vertex>"
                   "<vertex><coordinates><x>0</x><y>1</y><z>0</z></coordinates></vertex>"
                   "</vertices><volume><triangle><v1>0</v1><v2>1</v2><v3>2</v3></triangle>"
                   "</volume></mesh></object></amf>";
        };
        CHECK(facts_of("a.amf", amf("unit=\"inch\"")).mm_per_unit == 25.4);
        CHECK(facts_of("a.amf", amf("unit='micron'")).mm_per_unit == 0.001);
        CHECK(facts_of("a.amf", amf("")).mm_per_unit == 1.0);
        CHECK(facts_of("a.amf", as_zip({{"a.amf", amf("unit=\"feet\"")}})).mm_per_unit == 304.8);
    }
}

// COLLADA 1.4.1 specification, <up_axis>: in a Z_UP file x points right and y inward, so that in
// a Y_UP one x stays, z becomes y, and y becomes -z. <unit meter="0.01"> makes a unit a centimetre.
TEST_CASE("COLLADA is turned to +y and scaled to metres") {
    const TemporaryFolder folder;
    write(folder / "z.dae", as_collada({R"(<unit name="cm" meter="0.01"/><up_axis>Z_UP</up_axis>)",
                                        "0 0 0 1 0 0 0 2 0 0 0 3"}));
    const Mesh mesh = load_model(folder / "z.dae", no_cache());
    CHECK(mesh.facts().up == "+y");
    CHECK(mesh.facts().mm_per_unit == 1000.0);
    CHECK(mesh.facts().closed);
    CHECK(mesh.parts()[0].name == "piece");
    // One product in float for each number.
    const double epsilon = 3e-9;
    CHECK(mesh.bounds().high.x == doctest::Approx(0.01).epsilon(epsilon * 100));
    CHECK(mesh.bounds().high.y == doctest::Approx(0.03).epsilon(epsilon * 100));
    CHECK(mesh.bounds().low.z == doctest::Approx(-0.02).epsilon(epsilon * 100));
    CHECK(std::abs(mesh.bounds().low.y) < epsilon);
    CHECK(std::abs(mesh.bounds().high.z) < epsilon);
}

TEST_CASE("a node's transform is applied, and a mirroring one keeps the outside out") {
    const TemporaryFolder folder;
    write(folder / "a.gltf",
          as_gltf(box({0, 0, 0}, {1, 2, 3}), "", R"("scale":[-1,1,2],"translation":[10,0,0])"));
    const Mesh mesh = load_model(folder / "a.gltf", no_cache());
    CHECK(mesh.facts().flipped_windings == 0);  // the import's own matter, not the file's fault
    CHECK(mesh.bounds().low == glm::dvec3(9, 0, 0));
    CHECK(mesh.bounds().high == glm::dvec3(10, 2, 6));
    const glm::dvec3 centre = mesh.bounds().centre();
    for (std::size_t t = 0; t < 12; ++t) {
        const glm::dvec3 corner = position(mesh.vertices()[mesh.indices()[3 * t]]);
        CHECK(glm::dot(winding_normal(mesh, t), corner - centre) > 0.0);
    }
}

// A scale so near 1 that the importer's own test takes it for none.
TEST_CASE("a scale of 1.005 is applied") {
    const TemporaryFolder folder;
    write(folder / "a.gltf",
          as_gltf(box({0, 0, 0}, {1, 1, 1}), "", R"("scale":[1.005,1.005,1.005])"));
    CHECK(load_model(folder / "a.gltf", no_cache()).bounds().high.x == double{1.005f});
}

TEST_CASE("parts are called by nodes and materials, each name once") {
    const TemporaryFolder folder;
    write(folder / "a.obj",
          "mtllib a.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\n"
          "o ring\nusemtl gold\nf 1 2 3\nusemtl silver\nf 1 3 4\no stone\nf 1 4 2\n");
    write(folder / "a.mtl", "newmtl gold\nKd 1 1 0\nnewmtl silver\nKd 1 1 1\n");
    const Mesh mesh = load_model(folder / "a.obj", no_cache());
    REQUIRE(mesh.parts().size() == 3);
    CHECK(mesh.parts()[0].name == "ring");
    CHECK(mesh.parts()[0].material == "gold");
    CHECK(mesh.parts()[1].name == "ring#2");
    CHECK(mesh.parts()[1].material == "silver");
    CHECK(mesh.parts()[2].name == "stone");
    CHECK(mesh.parts()[2].first_triangle == 2);
    CHECK(mesh.parts()[2].triangle_count == 1);
}

TEST_CASE("files that are no model say why") {
    const TemporaryFolder folder;
    const auto message = [&](const std::string& name) { return bad_model_message(folder / name); };
    const auto has = [](const std::string& text, const std::string& part) {
        CAPTURE(text);
        CHECK(text.find(part) != std::string::npos);
    };
    has(message("missing.ply"), "missing.ply: there is no such file");
    fs::create_directory(folder / "folder.ply");
    has(message("folder.ply"), "this is a folder");
    write(folder / "empty.ply", "");
    has(message("empty.ply"), "the file is empty");
    write(folder / "model.xyz123", "something");
    has(message("model.xyz123"), "the extension \".xyz123\" is not known; expected one of ");
    write(folder / "model.WRL", "#VRML V2.0 utf8");
    has(message("model.WRL"), "this is VRML, which is not taken; export the model as X3D");
    write(folder / "model", "something");
    has(message("model"), "the name has no extension");
    // In its header: the importer itself would look for the rest for ever.
    write(folder / "cut.ply", as_binary_ply(box({0, 0, 0}, {1, 1, 1})).substr(0, 150));
    has(message("cut.ply"), "cut.ply: it cannot be read: the file ends too soon");
    write(folder / "points.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\np 1\np 2\n");
    has(message("points.obj"), "it has no triangles, only ");
    write(folder / "line.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nl 1 2 3\n");
    has(message("line.obj"), "it has no triangles, only ");
    Model flat = tetrahedron();
    for (glm::vec3& p : flat.points) p = glm::vec3(p.x);
    write(folder / "flat.ply", as_binary_ply(flat));
    has(message("flat.ply"), "none of its 4 triangles is usable: 4 have no area");
    write(folder / "lonely.gltf", as_gltf(tetrahedron(), "gone.bin"));
    has(message("lonely.gltf"), "gone.bin");
    Model wild = tetrahedron();
    wild.triangles[1][2] = 77;
    write(folder / "wild.ply", as_binary_ply(wild));
    has(message("wild.ply"), "a face names vertex 77 of 4");
}

TEST_CASE("the importer's own test models load or are refused, and some are known") {
    const fs::path models = "/usr/share/assimp/models";
    if (!fs::exists(models)) {
        MESSAGE("skipped: the package assimp-testmodels is not installed");
        return;
    }
    const auto triangles = [&](const char* name) {
        return load_model(models / name, no_cache()).indices().size() / 3;
    };
    // Cubes of twelve triangles, and the duck of the COLLADA test suite: 4212 triangles, as the
    // read-me of the glTF sample models says of the same duck.
    CHECK(triangles("OBJ/box.obj") == 12);
    CHECK(triangles("FBX/box.fbx") == 12);
    CHECK(triangles("3MF/box.3mf") == 12);
    CHECK(triangles("X/test_cube_text.x") == 12);
    CHECK(triangles("PLY/cube.ply") == 12);
    CHECK(triangles("Collada/duck.dae") == 4212);
    CHECK(triangles("glTF2/BoxTextured-glTF/BoxTextured.gltf") == 12);
    // A cube that is flat in the file, where the importer gives normals of points.
    CHECK(load_model(models / "BLEND/BlenderDefault_276.blend", no_cache()).facts().normals ==
          "made");
    // Two groups of two triangles, of which the importer loses one's node.
    CHECK(triangles("RAW/WithColor.raw") == 4);
    // Claims more vertices than fit into memory, and than it has.
    CHECK(bad_model_message(models / "invalid/OutOfMemory.off")
              .find("its head promises 353535235358 vertices and 6 faces") != std::string::npos);
}
