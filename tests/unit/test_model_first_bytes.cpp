// Files whose first bytes are not what their extension says, and texts that lack their end. The
// first bytes are those of each format's specification: zip, APPNOTE 6.3, section 4.3.7; glTF 2.0,
// section 4.4.2; gzip, RFC 1952, section 2.3.1; Zstandard, RFC 8878, section 3.1.1; STEP, ISO
// 10303-21, section 5; 7z, RAR, FBX, the pointers of Git LFS, OFF and DXF from memory.

#include <doctest/doctest.h>

#include "error.hpp"
#include "model/readers/check_whole.hpp"
#include "model/readers/first_bytes.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
using namespace std::string_literals;

namespace {

template <class Check>
std::string message_of(const Check& check) {
    try {
        check();
        return "no error";
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::bad_model);
        return error.what();
    }
}

std::string first_bytes(const std::string& bytes, const std::string& extension) {
    return message_of([&] { check_first_bytes(bytes, extension); });
}

std::string off(const std::string& text) {
    return message_of([&] { check_whole_off(text); });
}

std::string dxf(const std::string& text) {
    return message_of([&] { check_whole_dxf(text); });
}

std::string glb(std::uint32_t stated, std::size_t size) {
    std::string bytes = "glTF\x02\0\0\0"s;
    for (int shift = 0; shift < 32; shift += 8) bytes += static_cast<char>(stated >> shift);
    bytes.resize(size, ' ');
    return bytes;
}

std::string step(const std::string& schema) {
    return "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('" + schema + "'));\nENDSEC;\nDATA;\n";
}

}  // namespace

TEST_CASE("a zip archive names the models in it, whatever its extension") {
    const std::string one = as_zip({{"readme.txt", "x"}, {"stand/base.OBJ", "x"}});
    for (const char* extension : {".zip", ".obj", ".glb", ".stl", ".fbx", ""})
        CHECK(first_bytes(one, extension) ==
              "it is a zip archive with \"stand/base.OBJ\"; unpack it and name the model");
    const std::string many = as_zip({{"a.obj", ""},
                                     {"__MACOSX/a.obj", ""},
                                     {"b\n.stl", ""},
                                     {"c.fbx", ""},
                                     {"d.ply", ""},
                                     {"e.dae", ""}});
    CHECK(first_bytes(many, ".zip") ==
          "it is a zip archive with \"a.obj\", \"b_.stl\", \"c.fbx\" and 2 more; unpack it and "
          "name the model");
    const std::string none =
        "it is a zip archive, and no model is found in it; unpack it and see "
        "what it holds";
    CHECK(first_bytes(as_zip({{"readme.txt", "x"}}), ".zip") == none);
    CHECK(first_bytes(one.substr(0, 40), ".obj") == none);
    CHECK(first_bytes(as_zip({{std::string(300, 'a') + ".obj", ""}}), ".zip").size() < 200);
    // 3MF Core Specification, section 2.1 and appendix C: a package is a zip archive.
    const std::string package = as_zip({{"[Content_Types].xml", ""}, {"3D/3dmodel.model", ""}});
    CHECK(first_bytes(package, ".stl") ==
          "it is 3MF, but its extension is \".stl\"; expected .3mf; rename the file");
    for (const char* extension : {".3mf", ".amf", ".zae"})
        CHECK(first_bytes(package, extension) == "no error");
}

TEST_CASE("a model, an archive or a pointer under another extension is told for what it is") {
    const auto renamed = [](const std::string& name, const std::string& right) {
        return "it is " + name + ", but its extension is \".obj\"; expected " + right +
               "; rename the file";
    };
    CHECK(first_bytes(as_ply(tetrahedron()), ".obj") == renamed("PLY", ".ply"));
    CHECK(first_bytes("ply\r\nformat", ".obj") == renamed("PLY", ".ply"));
    CHECK(first_bytes(glb(20, 20), ".obj") == renamed("binary glTF", ".glb"));
    CHECK(first_bytes("Kaydara FBX Binary  ", ".obj") == renamed("FBX", ".fbx"));
    CHECK(first_bytes("BLENDER-v300", ".obj") == renamed("BLEND", ".blend"));
    CHECK(first_bytes(step("IFC2X3"), ".obj") == renamed("IFC", ".ifc"));
    CHECK(first_bytes(" {\"asset\": {}}", ".glb") ==
          "it is glTF as text, but its extension is \".glb\"; expected .gltf; rename the file");
    CHECK(first_bytes(as_ply(tetrahedron()), "") ==
          "it is PLY, but its name has no extension; expected .ply; rename the file");

    const std::string unpack = "; unpack it and name the model that is in it";
    CHECK(first_bytes("\x1F\x8B\x08\0"s, ".stl") == "it is a file packed by gzip" + unpack);
    CHECK(first_bytes("7z\xBC\xAF\x27\x1C\0\4"s, ".7z") == "it is a 7z archive" + unpack);
    CHECK(first_bytes("Rar!\x1A\x07\x01\0"s, ".rar") == "it is a RAR archive" + unpack);
    CHECK(first_bytes("\x28\xB5\x2F\xFD ", ".ply") == "it is a file packed by Zstandard" + unpack);
    CHECK(first_bytes("version https://git-lfs.github.com/spec/v1\noid sha256:4d\nsize 9\n",
                      ".glb") ==
          "it is a pointer of Git LFS in place of the model itself; fetch "
          "the file that it stands for (git lfs pull)");
    CHECK(first_bytes("\n<!DOCTYPE HTML><html>", ".fbx")
              .starts_with("it is a web page, as some downloads give in place of the file; "));
}

TEST_CASE("what a format has that is not read is told, and what to export") {
    CHECK(first_bytes(step("AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }"), ".step") ==
          "it is STEP, which holds surfaces by their formulas and not as triangles; export the "
          "model as STL, 3MF or OBJ, fine enough for its size");
    CHECK(first_bytes("\x28\xB5\x2F\xFD ", ".blend") ==
          "it is BLEND packed by Zstandard, which is not taken; save it without compression, or "
          "export the model as glTF or OBJ");
    CHECK(first_bytes("COFF BINARY\n\0\0\0\x08"s, ".off") ==
          "it is binary OFF, which is not taken; export the model as text OFF, PLY or STL");
}

TEST_CASE("sound first bytes are let by") {
    for (const char* extension : {".ifc", ".step", ".stp"})
        CHECK(first_bytes(step("IFC4"), extension) == "no error");
    CHECK(first_bytes("\x1F\x8B\x08", ".blend") == "no error");
    CHECK(first_bytes("OFF\n# BINARY OFF BINARY\n", ".off") == "no error");
    CHECK(first_bytes(glb(20, 20), ".glb") == "no error");
    CHECK(first_bytes(as_ply(tetrahedron()), ".ply") == "no error");
    CHECK(first_bytes(as_stl(tetrahedron()), ".stl") == "no error");
    CHECK(first_bytes(as_binary_stl(tetrahedron()), ".stl") == "no error");
    CHECK(first_bytes(as_obj(tetrahedron()), ".obj") == "no error");
    CHECK(first_bytes("", ".obj") == "no error");
}

TEST_CASE("binary glTF that is shorter than its header states is cut short") {
    CHECK(first_bytes(glb(780, 390), ".glb") ==
          "it is cut short: it has 390 bytes of the 780 that its header states; download or export "
          "it again");
    CHECK(first_bytes(glb(780, 11), ".glb") ==
          "it is cut short: it has 11 bytes, expected a header of 12; download or export it again");
    CHECK(first_bytes(glb(20, 24), ".glb") == "no error");  // more is not less
    const TemporaryFolder folder;
    write(folder / "a.glb", glb(780, 390));
    CHECK(bad_model_message(folder / "a.glb").find("a.glb: it is cut short: it has 390 bytes of") !=
          std::string::npos);
}

TEST_CASE("OFF: lines that its head promises, and vertices that are there") {
    const std::string head = "OFF # a pyramid\n\n5 3 0\n";
    const std::string points = "0 0 0\n1 0 0\n1 1 0\n0 1 0\n.5 .5 1\n";
    const std::string whole = head + points + "4 3 2 1 0\n3 0 1 4 255 0 0\n3  1 2 4\n";
    for (const std::string& text :
         {whole, whole + "more\n", head + "\n# five points\n" + whole.substr(head.size()),
          whole.substr(0, whole.size() - 1), "STC" + whole, "COFF 1 0 0\n 1 2 3\n"s,
          "1 0\n1 2 3\n"s, "nOFF\n4\n9 9 9\n"s, "no head\n"s, ""s})
        CHECK(off(text) == "no error");
    const auto ends_after = [](int vertices, int faces) {
        return "it is cut short: its head promises 5 vertices and 3 faces, each on a line of its "
               "own, and it ends after " +
               std::to_string(vertices) + " and " + std::to_string(faces) +
               "; download or export it again";
    };
    CHECK(off(head + points.substr(0, 12)) == ends_after(2, 0));
    CHECK(off(head + points + "4 3 2 1 0\n") == ends_after(5, 1));
    CHECK(off(whole.substr(0, whole.size() - 8)) == ends_after(5, 2));
    CHECK(off(whole.substr(0, whole.size() - 3)) == ends_after(5, 2));
    CHECK(off(head + points + "3 0 1 5\n") ==
          "a face names vertex 5 of 5 (counted from 0); expected a sound file; export the model "
          "again");
    CHECK(off(head + points + "3 0 1 -1\n").starts_with("a face names vertex -1 of 5 "));
    CHECK(off("OFF\n353535235358 6 0\n0 0 0\n").find("it ends after 1 and 0") != std::string::npos);
    const TemporaryFolder folder;
    write(folder / "a.off", whole);
    CHECK(load_model(folder / "a.off", no_cache()).triangle_count() == 4);
    write(folder / "b.off", whole.substr(0, whole.size() - 8));
    CHECK(bad_model_message(folder / "b.off").find("b.off: " + ends_after(5, 2)) !=
          std::string::npos);
}

TEST_CASE("DXF: the last of its sections has its end") {
    const std::string head = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n 70\n4\n0\nENDSEC\n";
    const std::string faces =
        "  0\r\nSECTION\r\n  2\r\nENTITIES\r\n  0\r\n3DFACE\r\n  8\r\nL\r\n 10\r\n0\r\n 20\r\n0\r\n"
        " 30\r\n0\r\n 11\r\n1\r\n 21\r\n0\r\n 31\r\n0\r\n 12\r\n1\r\n 22\r\n1\r\n 32\r\n0\r\n"
        " 13\r\n0\r\n 23\r\n1\r\n 33\r\n0\r\n";
    const std::string end = "  0\r\nENDSEC\r\n  0\r\nEOF\r\n";
    CHECK(dxf(head + faces + end) == "no error");
    CHECK(dxf(head + faces + "0\nENDSEC\n") == "no error");
    for (const char* other : {"AutoCAD Binary DXF\r\n\x1A", "", "0\n", "a text\nof two lines\n"})
        CHECK(dxf(other) == "no error");
    const std::string cut =
        "it is cut short: it ends within its section ENTITIES, without ENDSEC and EOF; download or "
        "export it again";
    for (std::size_t size = faces.find("3DFACE"); size < faces.size(); ++size)
        REQUIRE(dxf(head + faces.substr(0, size)) == cut);
    CHECK(dxf(head + faces + end.substr(0, 7)) == cut);
    const TemporaryFolder folder;
    write(folder / "a.dxf", head + faces + end);
    CHECK(load_model(folder / "a.dxf", no_cache()).triangle_count() == 2);
    write(folder / "b.dxf", head + faces);
    CHECK(bad_model_message(folder / "b.dxf").find("b.dxf: " + cut) != std::string::npos);
}
