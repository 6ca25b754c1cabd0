// What files state of their unit and axes, in formats of which the importer passes on none of it;
// and text in UTF-16.

#include <doctest/doctest.h>

#include <string>

#include "model/readers/utf16.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

Mesh mesh_of(const std::string& name, const std::string& bytes) {
    const TemporaryFolder folder;
    write(folder / name, bytes);
    return load_model(folder / name, no_cache());
}

ModelFacts facts_of(const std::string& name, const std::string& bytes) {
    return mesh_of(name, bytes).facts();
}

std::string x3d(const std::string& head) {
    return R"(<?xml version="1.0" encoding="UTF-8"?><X3D profile="Interchange" version="3.3">)" +
           head + R"(<Scene><Shape><IndexedFaceSet coordIndex="0 1 2 -1"><Coordinate
point="0 0 0 1 0 0 0 1 0"/></IndexedFaceSet></Shape></Scene></X3D>)";
}

std::string opengex(const std::string& metrics) {
    return metrics + R"(
GeometryNode $node1 { Name {string {"piece"}} ObjectRef {ref {$geometry1}} }
GeometryObject $geometry1 { Mesh (primitive = "triangles") {
VertexArray (attrib = "position") { float[3] { {0, 0, 0}, {1, 0, 0}, {0, 1, 0} } }
IndexArray { unsigned_int32[3] { {0, 1, 2} } } } }
)";
}

std::string dxf(const std::string& header) {
    const std::string face =
        "0\n3DFACE\n8\nL\n10\n0\n20\n0\n30\n0\n11\n1\n21\n0\n31\n0\n12\n0\n22\n1\n32\n0\n"
        "13\n0\n23\n1\n33\n0\n";
    return "0\nSECTION\n2\nHEADER\n" + header + "0\nENDSEC\n0\nSECTION\n2\nENTITIES\n" + face +
           "0\nENDSEC\n0\nEOF\n";
}

// One triangle.
std::string collada(const std::string& asset) {
    return as_collada({asset, "0 0 0 1 0 0 0 2 0", "0 1 2"});
}

// Each axis as the settings write it: number, sign.
std::string fbx(const std::string& settings) {
    return "; FBX 7.3.0 project file\nFBXHeaderExtension:  {\n\tFBXVersion: 7300\n}\n"
           "GlobalSettings:  {\n\tVersion: 1000\n\tProperties70:  {\n" +
           settings +
           "\t}\n}\nObjects:  {\n\tGeometry: 10, \"Geometry::g\", \"Mesh\" {\n"
           "\t\tVertices: *12 {\n\t\t\ta: 0,0,0,1,0,0,0,2,0,0,0,3\n\t\t}\n"
           "\t\tPolygonVertexIndex: *12 {\n\t\t\ta: 0,2,-2,0,1,-4,0,3,-3,1,2,-4\n\t\t}\n\t}\n"
           "\tModel: 11, \"Model::piece\", \"Mesh\" {\n\t\tVersion: 232\n\t}\n}\n"
           "Connections:  {\n\tC: \"OO\",11,0\n\tC: \"OO\",10,11\n}\n";
}
std::string fbx_number(const std::string& name, const std::string& value) {
    return "\t\tP: \"" + name + "\", \"int\", \"Integer\", \"\"," + value + "\n";
}
std::string fbx_axes(const std::string& right, const std::string& right_sign, const std::string& up,
                     const std::string& up_sign, const std::string& front,
                     const std::string& front_sign) {
    return fbx_number("UpAxis", up) + fbx_number("UpAxisSign", up_sign) +
           fbx_number("FrontAxis", front) + fbx_number("FrontAxisSign", front_sign) +
           fbx_number("CoordAxis", right) + fbx_number("CoordAxisSign", right_sign);
}

std::string in_utf16(const std::string& ascii, bool big) {
    std::string text = big ? "\xFE\xFF" : "\xFF\xFE";
    for (const char c : ascii) {
        if (big) text += '\0';
        text += c;
        if (!big) text += '\0';
    }
    return text;
}

}  // namespace

// ISO/IEC 19775-1, section 7.2.5.12: UNIT category name factor; the factor is to metres.
TEST_CASE("X3D: metres, or the unit of the file") {
    CHECK(facts_of("a.x3d", x3d("")).mm_per_unit == 1000.0);
    const ModelFacts facts =
        facts_of("a.x3d", x3d(R"(<head><unit category="angle" name="deg" conversionFactor="0.0174"/>
<unit category='length' name='inch' conversionFactor='0.0254'/></head>)"));
    CHECK(facts.mm_per_unit == doctest::Approx(25.4).epsilon(1e-15));
    CHECK(facts.unit_reason == "stated by the file");
    CHECK(facts.up == "+y");
}

// Open Game Engine Exchange specification, structure Metric.
TEST_CASE("OpenGEX: unit, up and forward of the file, z and metres without them") {
    const ModelFacts plain = facts_of("a.ogex", opengex(""));
    CHECK(plain.mm_per_unit == 1000.0);
    CHECK(plain.up == "+z");
    const ModelFacts facts = facts_of("a.ogex", opengex(R"(Metric (key = "distance") {float {0.01}}
Metric (key = "up") {string {"y"}}
Metric (key = "forward") {string {"-z"}})"));
    CHECK(facts.mm_per_unit == doctest::Approx(10.0).epsilon(1e-15));
    CHECK(facts.up == "+y");
    CHECK(facts.up_reason == "stated by the file");
    CHECK(facts.front == "-z");
}

// DXF reference, $INSUNITS: 1 inches, 4 millimetres, 0 unitless.
TEST_CASE("DXF: the unit of the header") {
    const auto header = [](const std::string& code) {
        return "9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n" + code + "\n";
    };
    CHECK(facts_of("a.dxf", dxf(header("     4"))).mm_per_unit == 1.0);
    CHECK(facts_of("a.dxf", dxf(header("1"))).mm_per_unit == 25.4);
    CHECK(facts_of("a.dxf", dxf(header("0"))).mm_per_unit == 0.0);
    CHECK(facts_of("a.dxf", dxf("")).unit_reason == "the file states no unit");
}

// COLLADA 1.4.1 specification, <unit> and <up_axis>.
TEST_CASE("COLLADA: the reasons tell what the file states") {
    const ModelFacts stated =
        facts_of("a.dae", collada(R"(<unit name="inch" meter="0.0254"/><up_axis>Z_UP</up_axis>)"));
    CHECK(stated.unit_reason == "stated by the file as 0.0254 m; the importer scales it to metres");
    CHECK(stated.up_reason == "stated by the file as +z; the importer turns it to +y");
    const ModelFacts plain = facts_of("a.dae", collada(""));
    CHECK(plain.unit_reason == "metres, the format's default");
    CHECK(plain.up_reason == "the format's default");
    CHECK(plain.mm_per_unit == 1000.0);
    const ModelFacts packed =
        facts_of("a.zae", as_zip({{"a.dae", collada("<up_axis>Y_UP</up_axis>")}}));
    CHECK(packed.up_reason == "stated by the file");
}

// X_UP: the same section's table: right -y, up +x, inward -z. What points up in the file points up
// in what is read.
TEST_CASE("COLLADA: X_UP is turned to +y") {
    const Mesh mesh = mesh_of("a.dae", collada("<up_axis>X_UP</up_axis>"));
    CHECK(mesh.bounds().high.y == 1.0);  // (1, 0, 0)
    CHECK(mesh.bounds().low.x == -2.0);  // (0, 2, 0)
}

// FBX SDK documentation, FbxAxisSystem and FbxSystemUnit, from memory: up, front towards the
// viewer, the third to the viewer's right; the factor is to centimetres.
TEST_CASE("FBX: unit and axes of the global settings") {
    const ModelFacts plain = facts_of("a.fbx", fbx(""));
    CHECK(plain.mm_per_unit == 10.0);
    CHECK(plain.unit_reason == "centimetres, the format's default");
    CHECK(plain.up == "+y");
    CHECK(plain.up_reason == "the format's default");
    const ModelFacts z_up =
        facts_of("a.fbx", fbx(fbx_axes("0", "1", "2", "1", "1", "-1") +
                              "\t\tP: \"UnitScaleFactor\", \"double\", \"Number\", \"\",2.54\n"));
    CHECK(z_up.mm_per_unit == 25.4);
    CHECK(z_up.unit_reason == "stated by the file");
    CHECK(z_up.up == "+z");
    CHECK(z_up.front == "-y");
    CHECK(z_up.up_reason == "stated by the file");
    const ModelFacts x_front = facts_of("a.fbx", fbx(fbx_axes("2", "-1", "1", "1", "0", "1")));
    CHECK(x_front.front == "+x");
}

// Seen from the front, with up on top, the first axis must point to the right: in a left-handed
// file that takes a mirror.
TEST_CASE("FBX: left-handed axes are mirrored, outside out") {
    const Mesh mesh = mesh_of("a.fbx", fbx(fbx_axes("0", "-1", "1", "1", "2", "1")));
    CHECK(mesh.bounds().low == glm::dvec3(-1, 0, 0));
    CHECK(mesh.bounds().high == glm::dvec3(0, 2, 3));
    CHECK(mesh.facts().flipped_windings == 0);
    CHECK(mesh.facts().up_reason.find("left-handed") != std::string::npos);
    const glm::dvec3 inside(-0.1, 0.1, 0.1);
    for (std::size_t t = 0; t < 4; ++t)
        CHECK(glm::dot(winding_normal(mesh, t),
                       position(mesh.vertices()[mesh.indices()[3 * t]]) - inside) > 0.0);
}

TEST_CASE("NFF: the up of the view") {
    const std::string polygon = "p 3\n0 0 0\n1 0 0\n0 1 0\n";
    CHECK(facts_of("a.nff", polygon).up == "+z");
    const ModelFacts facts =
        facts_of("a.nff", "v\nfrom 0 3 10\nat 0 0 0\nup 0 -1 0\nangle 40\n" + polygon);
    CHECK(facts.up == "-y");
    CHECK(facts.up_reason == "the up of the file's view");
}

TEST_CASE("text in UTF-16 reads as the same text in UTF-8") {
    const std::string obj = as_obj(tetrahedron());
    for (const bool big : {false, true}) {
        CHECK(facts_of("a.obj", in_utf16(obj, big)).triangles_in_file == 4);
        CHECK(facts_of("a.dae", in_utf16(collada(""), big)).triangles_in_file == 1);
        CHECK(facts_of("a.stl", in_utf16(as_stl(tetrahedron()), big)).triangles_in_file == 4);
        CHECK(facts_of("a.ply", in_utf16(as_ply(tetrahedron()), big)).triangles_in_file == 4);
    }
}

// Unicode Standard, tables 3-5 and 3-6, and their examples: U+004D, U+0430, U+4E8C, U+10302.
TEST_CASE("UTF-16 becomes UTF-8 letter by letter") {
    const std::string spaces(16, ' ');  // so that most of it is ASCII
    const auto big = [&](const std::string& units) {
        return utf8_from_utf16(in_utf16(spaces, true) + units).value().substr(16);
    };
    using namespace std::string_literals;
    CHECK(big("\x00\x4D\x04\x30\x4E\x8C\xD8\x00\xDF\x02"s) ==
          "\x4D\xD0\xB0\xE4\xBA\x8C\xF0\x90\x8C\x82");
    CHECK(big("\xD8\x00"s) == "\xEF\xBF\xBD");
    CHECK(big("\xDF\x02\x00\x41"s) == "\xEF\xBF\xBD\x41");
    CHECK(big("\xD8\x00\x00\x41"s) == "\xEF\xBF\xBD\x41");
    CHECK(big("\x00\x41\x00"s) == "A");
    CHECK_FALSE(utf8_from_utf16("solid a").has_value());
    CHECK_FALSE(utf8_from_utf16("\xFF\xFE"s).has_value());
    CHECK_FALSE(utf8_from_utf16("\xFF\xFE\x00\x00\x41\x00"s).has_value());  // a control character
    CHECK_FALSE(utf8_from_utf16("\xFF\xFE\x00\x4E\x8C\x4E"s).has_value());  // nothing of ASCII
}

// XML Schema 1.0 part 2, section 4.3.6: in lists, blanks are collapsed. OpenGEX specification:
// colours are of float[3] or float[4], of materials and of points.
TEST_CASE("sound text that the importer stumbles over is read all the same") {
    const std::string effect = R"(</asset><library_effects><effect id="e"><profile_COMMON>
<technique sid="t"><phong><emission><color sid="emission">  0.0 0.0 0.0 1.0  </color></emission>
</phong></technique></profile_COMMON></effect></library_effects><asset>)";
    std::string dae = collada("<up_axis>Z_UP</up_axis>");
    dae.replace(dae.find("</asset>"), 8, effect.substr(0, effect.size() - 7));
    const ModelFacts of_dae = facts_of("a.dae", dae);
    CAPTURE(of_dae.warnings.size());
    CHECK(of_dae.triangles_in_file == 1);
    std::string ogex = opengex("Metric (key = \"up\") {string {\"y\"}}");
    ogex.insert(ogex.find("IndexArray"), R"(
VertexArray (attrib = "color") { float[3] { {1, 0, 0}, {0, 1, 0}, {0, 0, 1} } }
)");
    const ModelFacts facts = facts_of("a.ogex", ogex);
    CHECK(facts.triangles_in_file == 1);
    CHECK(facts.up == "+y");
}

TEST_CASE("what the importer refuses or finds nothing in is said in words") {
    const TemporaryFolder folder;
    const auto message = [&](const std::string& name, const std::string& bytes) {
        write(folder / name, bytes);
        return bad_model_message(folder / name);
    };
    const auto has = [](const std::string& text, const std::string& part) {
        CAPTURE(text);
        CHECK(text.find(part) != std::string::npos);
    };
    using namespace std::string_literals;
    has(message("a.glb", "glTF\x01\0\0\0\x14\0\0\0\0\0\0\0\0\0\0\0"s), "binary glTF of version 1");
    has(message("a.fbx", "Kaydara FBX Binary       \x1A "s + std::string(40, ' ')),
        "its binary data is spoilt");
    has(message("a.bvh",
                "HIERARCHY\nROOT hip\n{\nOFFSET 0 0 0\nCHANNELS 3 Xposition Yposition "
                "Zposition\nEnd Site\n{\nOFFSET 0 1 0\n}\n}\nMOTION\nFrames: 1\n"
                "Frame Time: 0.03\n0 0 0\n"),
        "it has no surface, only 2 nodes, 1 motion");
    has(message("lonely.gltf", as_gltf(tetrahedron(), "gone.bin")),
        "\"gone.bin\"; expected it in the model's folder; copy it there, or allow outside_files");
    has(message("a.3ds", "This is no model."), "a.3ds: ");
}
