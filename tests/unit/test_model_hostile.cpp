// Files that our own readers once took too literally: found by the fuzz targets or by looking for
// what they cannot reach. What is asked for stands in each format's own description.

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

#include "model/pictures/image_file.hpp"
#include "model/pictures/jpeg_tables.hpp"
#include "model/readers/gltf_document.hpp"
#include "model/readers/mend_text.hpp"
#include "model/readers/x3d_uses.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

std::string object(int id, const std::string& content) {
    return "<object id=\"" + std::to_string(id) + "\">" + content + "</object>";
}

std::string component(int id) {
    return "<component objectid=\"" + std::to_string(id) + "\"/>";
}

const std::string triangle = R"(<mesh><vertices><vertex x="0" y="0" z="0"/>
<vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/></vertices><triangles>
<triangle v1="0" v2="1" v3="2"/></triangles></mesh>)";

std::string message_of(const std::string& name, const std::string& bytes) {
    const TemporaryFolder folder;
    write(folder / name, bytes);
    return bad_model_message(folder / name);
}

/// Of a 3MF whose build places the object `last`.
std::string message_of_3mf(const std::string& objects, int last) {
    return message_of(
        "a.3mf", as_zip({{"3D/3dmodel.model", "<model><resources>" + objects +
                                                  "</resources><build><item objectid=\"" +
                                                  std::to_string(last) + "\"/></build></model>"}}));
}

void check_has(const std::string& text, const std::string& part) {
    CAPTURE(text);
    CHECK(text.find(part) != std::string::npos);
}

/// A chain of objects from 1 on, each of which has the one before so many times.
std::string chained(int levels, int times) {
    std::string objects = object(1, triangle);
    for (int id = 2; id <= levels; ++id) {
        std::string components;
        for (int i = 0; i < times; ++i) components += component(id - 1);
        objects += object(id, "<components>" + components + "</components>");
    }
    return objects;
}

/// A Huffman table of a JPEG file with these counts of codes: ITU-T T.81, B.2.4.2.
std::string jpeg_with_table(const std::string& counts, std::size_t values) {
    const std::size_t length = 3 + 16 + values;
    return "\xFF\xD8\xFF\xC4" + std::string(1, static_cast<char>(length >> 8)) +
           std::string(1, static_cast<char>(length)) + std::string(1, '\0') + counts +
           std::string(values, '\1');
}

bool is_overfull(const std::string& bytes) {
    return has_overfull_jpeg_table(
        {reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size()});
}

}  // namespace

// 3MF core specification 1.3, 4.1.4: the corners are whole numbers (ST_ResourceIndex).
TEST_CASE("3MF: a corner that is no number is refused, not converted") {
    std::string mesh = triangle;
    mesh.replace(mesh.find("v2=\"1\""), 6, "v2=\"nan\"");
    check_has(message_of_3mf(object(1, mesh), 1), "a corner of a triangle is \"nan\"");
}

// Core specification, 4.2: components may have components; 2^40 places are 40 short lines.
TEST_CASE("3MF: components that repeat past all measure, or lie too deep, are refused") {
    check_has(message_of_3mf(chained(40, 2), 40), "repeat objects more than 1000000 times");
    check_has(message_of_3mf(chained(102, 1), 102), "more than 100 deep in each other");
    CHECK(message_of_3mf(chained(100, 1), 100) == "no error");
}

// ISO/IEC 19775-1, 4.4.3: a USE is the whole node once more, with all that it holds.
TEST_CASE("X3D: USE elements that repeat past all measure, or lie too deep, are refused") {
    std::string groups = "<Group DEF=\"g0\"><Shape/></Group>";
    for (int i = 1; i < 40; ++i) {
        const std::string use = "<Group USE=\"g" + std::to_string(i - 1) + "\"/>";
        groups += "<Group DEF=\"g" + std::to_string(i) + "\">" + use + use + "</Group>";
    }
    check_has(message_of("a.x3d", "<X3D><Scene>" + groups + "</Scene></X3D>"),
              "its USE elements repeat more than 4000000 nodes");
    std::string nested = "<Shape USE=\"none\"/>";
    for (int i = 0; i < 200'000; ++i) nested = "<a>" + std::move(nested);
    for (int i = 0; i < 200'000; ++i) nested += "</a>";
    check_has(message_of("a.x3d", nested), "more than 1000 deep in each other");
}

TEST_CASE("X3D: a node's copies stand for all its uses") {
    const auto text = without_uses(R"(<X><A DEF="a"><B/></A><A USE="a"/><C><A USE="a"/></C></X>)");
    REQUIRE(text);
    CHECK(
        *text ==
        R"(<?xml version="1.0"?><X><A DEF="a"><B/></A><A DEF="a"><B/></A><C><A DEF="a"><B/></A></C></X>)");
}

// X3D, 7.2.5.12: the factor is to metres; XML Schema's double goes up to 1.8e308.
TEST_CASE("a unit that millimetres cannot say is passed over") {
    const auto facts = [](const std::string& name, const std::string& bytes) {
        const TemporaryFolder folder;
        write(folder / name, bytes);
        return load_model(folder / name, no_cache()).facts();
    };
    const std::string scene = R"(<Scene><Shape><IndexedFaceSet coordIndex="0 1 2 -1"><Coordinate
point="0 0 0 1 0 0 0 1 0"/></IndexedFaceSet></Shape></Scene></X3D>)";
    const ModelFacts x3d = facts("a.x3d", R"(<X3D><head><unit category="length" name="far"
conversionFactor="1e308"/></head>)" + scene);
    CHECK(x3d.mm_per_unit == 1000.0);
    CHECK(x3d.unit_reason == "metres, stated by the format");
}

// COLLADA 1.4.1, <unit>: a number. ECMA-48: ESC begins what a terminal obeys.
TEST_CASE("COLLADA: a unit that is no number is not passed on to a terminal") {
    const TemporaryFolder folder;
    write(folder / "a.dae", as_collada({"<unit name=\"m\" meter=\"1\x1B[2J\"/>"}));
    const ModelFacts facts = load_model(folder / "a.dae", no_cache()).facts();
    CHECK(facts.unit_reason == "the importer scales the file's unit to metres");
}

// Three coordinates make a point: the second geometry has four.
TEST_CASE("FBX: an object that cannot be read is told, with others and alone") {
    const auto geometry = [](const std::string& id, const std::string& coordinates) {
        return "\tGeometry: " + id +
               ", \"Geometry::g\", \"Mesh\" {\n\t\tVertices: *9 {\n\t\t\ta: " + coordinates +
               "\n\t\t}\n\t\tPolygonVertexIndex: *3 {\n\t\t\ta: 0,1,-3\n\t\t}\n\t}\n\tModel: 1" +
               id + ", \"Model::piece\", \"Mesh\" {\n\t\tVersion: 232\n\t}\n";
    };
    const auto file = [](const std::string& objects) {
        return "; FBX 7.3.0 project file\nFBXHeaderExtension:  {\n\tFBXVersion: 7300\n}\n"
               "Objects:  {\n" +
               objects +
               "}\nConnections:  {\n\tC: \"OO\",110,0\n\tC: \"OO\",10,110\n\tC: \"OO\",120,0\n"
               "\tC: \"OO\",20,120\n}\n";
    };
    const std::string sound = geometry("10", "0,0,0,1,0,0,0,2,0"),
                      broken = geometry("20", "0,0,0,1");
    const TemporaryFolder folder;
    write(folder / "a.fbx", file(sound + broken));
    const Mesh mesh = load_model(folder / "a.fbx", no_cache());
    CHECK(mesh.parts().size() == 1);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0] == "objects that cannot be read were left out");
    check_has(message_of("b.fbx", file(broken)), "it has no surface that can be read: FBX-");
}

// The importer's own end of an unclosed structure is an error; nothing of it is left out.
TEST_CASE("OpenGEX: what is not closed stays as it is") {
    const std::string open = "Color (attrib = \"diffuse\") {float[3] {{1, 0, 0}}";
    CHECK_FALSE(mended_text(".ogex", open));
    CHECK(mended_text(".ogex", open + "} Name {}") == " Name {}");
}

// glTF 2.0's schema asks for "integer": any number without a fraction (JSON Schema, validation,
// 6.1.1), and none below 0 for indices. C++ leaves undefined what becomes of one that does not fit.
TEST_CASE("glTF: indices and counts that are no whole numbers are refused, not converted") {
    const auto of = [](const char* text) { return whole_number(nlohmann::json::parse(text)); };
    CHECK(of("0") == 0);
    CHECK(of("18446744073709551615") == ~std::uint64_t{0});
    CHECK(of("5.0") == 5);
    CHECK(of("5e3") == 5000);
    for (const char* text : {"-1", "-1.0", "0.5", "1e17", "1e300", "18446744073709551616",
                             "53333333333333333333333333126", "\"1\"", "null", "[1]", "true"}) {
        CAPTURE(text);
        CHECK_THROWS_AS(of(text), std::out_of_range);
    }
    const auto object = nlohmann::json::parse(R"({"children": [2, 1.0], "camera": 1e300})");
    CHECK(whole_members(object, "children") == std::vector<std::size_t>{2, 1});
    CHECK(whole_members(object, "nodes").empty());
    CHECK(whole_member(object, "mesh", 7) == 7);
    CHECK_THROWS_AS(whole_member(object, "camera", 7), std::out_of_range);
}

// ITU-T T.81, B.2.4.2: 16 counts and then as many values of 8 bits; so at most 256 of them.
TEST_CASE("JPEG: a table of more codes than values is refused before the decoder sees it") {
    const std::string most = std::string(15, '\x10') + '\x10';  // 16 * 16 = 256
    const std::string over = std::string(15, '\x10') + '\x11';
    CHECK_FALSE(is_overfull(jpeg_with_table(most, 256)));
    CHECK(is_overfull(jpeg_with_table(over, 257)));
    // Nor is it asked for the size, for which it reads the tables too.
    const auto texels = [](std::string jpeg) {
        // B.2.2: a frame of 3 x 2 pixels with one component of 8 bits.
        jpeg += std::string("\xFF\xC0\x00\x0B\x08\x00\x02\x00\x03\x01\x01\x11\x00", 13);
        return claimed_texels({reinterpret_cast<const unsigned char*>(jpeg.data()), jpeg.size()});
    };
    CHECK(texels(jpeg_with_table('\1' + std::string(15, '\0'), 1)) == 6);
    // Two codes of 15 bits and 255 of 16, which the library takes.
    CHECK(texels(jpeg_with_table(std::string(14, '\0') + "\2\xFF", 257)) == 0);
    CHECK(is_overfull(jpeg_with_table(std::string(16, '\xFF'), 0)));
    // Cut short: what is missing counts as nothing.
    CHECK(is_overfull(jpeg_with_table(std::string(2, '\xFF'), 0)));
    CHECK_FALSE(is_overfull(jpeg_with_table(std::string(1, '\xFF'), 0)));
    // In a segment of an application's own no table is meant; behind the first scan any marker is.
    const std::string table = jpeg_with_table(over, 257).substr(2);
    const std::string own = std::string("\xFF\xE1\x01\x80", 4) + std::string(0x17E, ' ');
    std::string hidden = own;
    hidden.replace(8, table.size(), table);
    CHECK_FALSE(is_overfull("\xFF\xD8" + hidden));
    CHECK(is_overfull("\xFF\xD8" + own + table));
    CHECK(is_overfull(std::string("\xFF\xD8\xFF\xDA\0\x02 data", 12) + table));
    CHECK_FALSE(is_overfull(table));
    const std::string bytes = jpeg_with_table(over, 257);
    CHECK_THROWS_WITH_AS(
        read_picture({reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size()}),
        doctest::Contains("more codes than there are values"), UnreadablePicture);
}
