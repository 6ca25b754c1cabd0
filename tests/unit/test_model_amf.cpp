// AMF (ISO/ASTM 52915, here from memory), on documents that the tests make.

#include <doctest/doctest.h>

#include <string>

#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

std::string vertex(const std::string& x, const std::string& y, const std::string& z) {
    return "<vertex><coordinates><x>" + x + "</x><y> " + y + " </y><z>" + z +
           "</z></coordinates></vertex>";
}

std::string triangle(const std::string& a, const std::string& b, const std::string& c) {
    return "<triangle><v1>" + a + "</v1><v2>" + b + "</v2><v3>" + c + "</v3></triangle>";
}

std::string name(const std::string& text) {
    return "<metadata type=\"name\"> " + text + "</metadata>";
}

// The corner of a box of 1 x 2 x 3, wound outward, and the tip of another one far behind it.
const std::string points = "<vertices>" + vertex("0", "0", "0") + vertex("1", "0", "0") +
                           vertex("0", "2.0", "0") + vertex("0", "0", "+3e0") +
                           vertex("0", "0", "-9") + "</vertices>";
const std::string corner = triangle("0", "2", "1") + triangle("0", "1", "3") +
                           triangle("0", "3", "2") + triangle("1", "2", "3");
const std::string behind = triangle("0", "1", "2") + triangle("0", "4", "1") +
                           triangle("0", "2", "4") + triangle("1", "4", "2");

std::string volume(const std::string& triangles, const std::string& attributes = {}) {
    return "<volume " + attributes + ">" + triangles + "</volume>";
}

std::string object(const std::string& id, const std::string& volumes) {
    return "<object id=\"" + id + "\"><mesh>" + points + volumes + "</mesh></object>";
}

std::string instance(const std::string& id, const std::string& place = {}) {
    return "<instance objectid=\"" + id + "\">" + place + "</instance>";
}

std::string constellation(const std::string& id, const std::string& instances) {
    return "<constellation id=\"" + id + "\">" + instances + "</constellation>";
}

std::string amf(const std::string& content) {
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<amf unit=\"millimeter\">" + content +
           "</amf>\n";
}

struct File {
    TemporaryFolder folder;
    fs::path path;
    explicit File(const std::string& bytes) : path(folder / "a.amf") { write(path, bytes); }
    Mesh mesh() const { return load_model(path, no_cache()); }
    std::string message() const { return bad_model_message(path); }
};

// Single precision, of numbers up to 16.
constexpr double rounding = 16.0 / 16777216.0;

void check_box(const Part& part, glm::dvec3 low, glm::dvec3 high) {
    CAPTURE(part.name);
    CHECK(glm::distance(part.bounds.low, low) < rounding);
    CHECK(glm::distance(part.bounds.high, high) < rounding);
}

void check_message(const std::string& message, const std::string& expected) {
    CAPTURE(message);
    CHECK(message.find(expected) != std::string::npos);
}

}  // namespace

TEST_CASE("AMF: every volume is a part, with the points that are its own") {
    const std::string brass = "<material id=\"2\">" + name("brass") + "</material>";
    const std::string shell = object("1", volume(name("shell") + corner, "materialid=\"2\"") +
                                              volume(behind, "materialid=\"7\""));
    const Mesh mesh = File(amf(brass + shell)).mesh();
    REQUIRE(mesh.parts().size() == 2);
    CHECK(mesh.parts()[0].name == "shell");
    CHECK(mesh.parts()[0].material == "brass");
    check_box(mesh.parts()[0], {0, 0, 0}, {1, 2, 3});
    CHECK(mesh.parts()[1].name == "1");
    CHECK(mesh.parts()[1].material.empty());
    check_box(mesh.parts()[1], {0, 0, -9}, {1, 2, 0});
    // An object's name goes to the volumes that have none.
    std::string named = object("1", volume(corner));
    named.insert(named.find("<mesh>"), name("ammonite"));
    CHECK(File(as_zip({{"b.amf", amf(named)}})).mesh().parts()[0].name == "ammonite");
}

TEST_CASE("AMF: instances turn about x, y and z in that order, and then move") {
    const std::string turned = "<rx>90</rx><ry>90</ry>";
    const std::string moved = "<deltax>5</deltax><deltaz>-1</deltaz>";
    SUBCASE("one turn") {
        // y comes to z, and z to -y.
        const Mesh mesh = File(amf(object("1", volume(corner)) +
                                   constellation("2", instance("1", "<rx>90</rx>" + moved))))
                              .mesh();
        REQUIRE(mesh.parts().size() == 1);
        check_box(mesh.parts()[0], {5, -3, -1}, {6, 0, 1});
    }
    SUBCASE("two, and a constellation in another one") {
        // (x, y, z) comes to (x, -z, y), and that to (y, -z, -x).
        const Mesh mesh =
            File(amf(constellation("3", instance("2", moved)) +
                     constellation("2", instance("1", turned)) + object("1", volume(corner))))
                .mesh();
        REQUIRE(mesh.parts().size() == 1);
        check_box(mesh.parts()[0], {5, -3, -2}, {7, 0, -1});
    }
    SUBCASE("what is placed again is stored once; what no instance names lies where it is") {
        const Mesh mesh = File(amf(object("1", volume(corner)) + object("4", volume(behind)) +
                                   constellation("2", instance("1") + instance("1", moved) +
                                                          instance("1", moved))))
                              .mesh();
        REQUIRE(mesh.parts().size() == 3);
        CHECK(mesh.copies().size() == 1);
        CHECK(mesh.facts().dropped_doubled == 4);
        CHECK(mesh.triangle_count() == 12);
    }
    SUBCASE("volumes with points in common are placed again each for itself") {
        const Mesh mesh = File(amf(object("1", volume(corner) + volume(behind)) +
                                   constellation("2", instance("1") + instance("1", moved))))
                              .mesh();
        REQUIRE(mesh.parts().size() == 4);
        CHECK(mesh.copies().size() == 2);
        check_box(mesh.parts()[1], {0, 0, -9}, {1, 2, 0});
        check_box(mesh.parts()[3], {5, 0, -10}, {6, 2, -1});
        // Each is closed by itself, and no edge of it is the other's too.
        CHECK(mesh.facts().crowded_edges == 0);
    }
}

TEST_CASE("AMF: what is left out is said") {
    const Mesh mesh =
        File(amf(object("1", volume(corner) + volume(behind, "type=\"support\"")))).mesh();
    CHECK(mesh.triangle_count() == 4);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0] == "support structures were left out: 1");
    std::string curved = object("1", volume(corner));
    curved.insert(curved.find("</vertices>"), "<edge><v1>0</v1><v2>1</v2></edge>");
    const Mesh flat = File(amf(curved)).mesh();
    CHECK(flat.triangle_count() == 4);
    REQUIRE(flat.facts().warnings.size() == 1);
    check_message(flat.facts().warnings[0], "curved by normals or edges");
}

TEST_CASE("AMF: UTF-16, and no document at all") {
    const std::string text = amf(object("1", volume(corner)));
    std::string wide = "\xFF\xFE";
    for (const char c : text) wide += {c, '\0'};
    CHECK(File(wide).mesh().triangle_count() == 4);
    check_message(File("<note/>").message(), "its document has no <amf>");
    check_message(File("<amf><object>").message(), "its document is no sound XML (line 1: ");
    check_message(File(as_zip({{"a.txt", "a"}})).message(), "no AMF document in it");
    check_message(File(amf("")).message(), "it has no triangles");
}

TEST_CASE("AMF: what is wrong is said") {
    const auto with = [&](std::string text, const std::string& old, const std::string& other) {
        text.replace(text.find(old), old.size(), other);
        return File(amf(text)).message();
    };
    const std::string sound = object("1", volume(corner));
    check_message(with(sound, "<v3>3", "<v3>9"), "a face names vertex 9 of 5");
    check_message(with(sound, "<v3>3", "<v3>-1"), "a face names vertex -1 of 5");
    check_message(with(sound, "<v3>3", "<v3>nan"), "a corner of a triangle is \"nan\"");
    check_message(with(sound, "<v3>3</v3>", ""), "a corner of a triangle is \"\"");
    check_message(with(sound, "2.0", "two"), "a coordinate of a vertex is \"two");
    check_message(with(sound, "<x>1</x>", ""), "a coordinate of a vertex is \"\"");
    check_message(File(amf(sound + constellation("2", instance("9")))).message(),
                  "an instance names the object \"9\", which is not there");
    check_message(File(amf(sound + constellation("2", instance("1", "<rx>x</rx>")))).message(),
                  "a number of an instance is \"x\"");
    check_message(
        File(amf(constellation("3", instance("2")) + constellation("2", instance("2")))).message(),
        "its object \"2\" has itself among its instances");
    for (std::size_t size = 1; size < amf(sound).size() - 10; size += 7)
        CHECK(File(amf(sound).substr(0, size)).message().find("; expected ") != std::string::npos);
}

TEST_CASE("AMF: few lines that stand for millions are refused") {
    std::string text = object("0", volume(corner));
    for (int i = 1; i < 40; ++i) {
        const std::string last = instance(std::to_string(i - 1));
        text += constellation(std::to_string(i), last + last);
    }
    check_message(File(amf(text)).message(), "its instances repeat objects more than 1000000");
}
