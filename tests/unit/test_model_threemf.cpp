// 3MF core specification 1.3 and production extension 1.1, on packages that the tests make.

#include <doctest/doctest.h>

#include <string>

#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

const std::string core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02";
const std::string production = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06";

std::string relations(const std::string& target) {
    return R"(<?xml version="1.0"?><Relationships xmlns=
"http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="r" Target=")" +
           target + R"(" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>)";
}

// The corner of a box of 1 x 2 x 3, wound outward.
const std::string wedge = R"(<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/>
<vertex x="0" y="2.0" z="0"/><vertex x="0" y="0" z="+3e0"/></vertices><triangles>
<triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/>
<triangle v1="1" v2="2" v3="3"/></triangles></mesh>)";

std::string model(const std::string& attributes, const std::string& resources,
                  const std::string& build) {
    return R"(<?xml version="1.0" encoding="UTF-8"?><model xmlns=")" + core + R"(" xmlns:p=")" +
           production + "\" " + attributes + "><resources>" + resources + "</resources><build>" +
           build + "</build></model>";
}

std::string package(const std::string& document,
                    std::vector<std::pair<std::string, std::string>> more = {}) {
    more.insert(more.begin(),
                {{"_rels/.rels", relations("/3D/3dmodel.model")}, {"3D/3dmodel.model", document}});
    return as_zip(more);
}

struct File {
    TemporaryFolder folder;
    fs::path path;
    explicit File(const std::string& bytes) : path(folder / "a.3mf") { write(path, bytes); }
    Mesh mesh() const { return load_model(path, no_cache()); }
    std::string message() const { return bad_model_message(path); }
};

std::string object(const std::string& attributes, const std::string& content) {
    return "<object " + attributes + ">" + content + "</object>";
}

void check_bounds(const Part& part, glm::dvec3 low, glm::dvec3 high) {
    CAPTURE(part.name);
    CHECK(part.bounds.low == low);
    CHECK(part.bounds.high == high);
}

void check_message(const std::string& message, const std::string& part) {
    CAPTURE(message);
    CHECK(message.find(part) != std::string::npos);
}

}  // namespace

TEST_CASE("3MF: the unit attribute, millimetres without one, +z up") {
    const auto facts = [](const std::string& attributes) {
        return File(package(
                        model(attributes, object(R"(id="1")", wedge), R"(<item objectid="1"/>)")))
            .mesh()
            .facts();
    };
    CHECK(facts("").mm_per_unit == 1.0);
    CHECK(facts("").unit_reason == "millimetres, the format's default");
    CHECK(facts("").up == "+z");
    CHECK(facts("").format == "3MF");
    CHECK(facts(R"(unit="inch")").unit_reason == "stated by the file");
    CHECK(facts(R"(unit="micron")").mm_per_unit == 0.001);
    CHECK(facts(R"(unit="millimeter")").mm_per_unit == 1.0);
    CHECK(facts(R"(unit="centimeter")").mm_per_unit == 10.0);
    CHECK(facts(R"(unit="inch")").mm_per_unit == 25.4);
    CHECK(facts(R"(unit="foot")").mm_per_unit == 304.8);
    CHECK(facts(R"(unit="meter")").mm_per_unit == 1000.0);
}

// Section 3.3: a transform's twelve numbers are the rows of a matrix that rows of coordinates are
// multiplied with; each component's comes before that of the object around it, and the item's last.
TEST_CASE(
    "3MF: components in components lie where their transforms say, mirrored ones outside out") {
    const std::string leg = R"(<components><component objectid="1"/>
<component objectid="1" transform="-1 0 0 0 1 0 0 0 1 10 0 0"/></components>)";
    const std::string beast = R"(<components>
<component objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/>
<component objectid="2" transform="1 0 0 0 1 0 0 0 2 0 100 0"/></components>)";
    const Mesh mesh =
        File(package(model("",
                           object(R"(id="1" name="foot")", wedge) +
                               object(R"(id="2" name="leg")", leg) +
                               object(R"(id="3" name="beast")", beast),
                           R"(<item objectid="3" transform="1 0 0 0 1 0 0 0 1 1000 0 0"/>
<item objectid="1"/>)")))
            .mesh();
    REQUIRE(mesh.parts().size() == 5);
    CHECK(mesh.parts()[0].name == "foot");
    CHECK(mesh.parts()[4].name == "foot#5");
    // First leg: x' = -y, y' = x, z' = z + 5, then x + 1000. The mirrored foot has x from 9 to 10.
    check_bounds(mesh.parts()[0], {998, 0, 5}, {1000, 1, 8});
    check_bounds(mesh.parts()[1], {998, 9, 5}, {1000, 10, 8});
    check_bounds(mesh.parts()[2], {1000, 100, 0}, {1001, 102, 6});
    check_bounds(mesh.parts()[3], {1009, 100, 0}, {1010, 102, 6});
    check_bounds(mesh.parts()[4], {0, 0, 0}, {1, 2, 3});
    CHECK(mesh.facts().closed);
    CHECK(mesh.facts().flipped_windings == 0);
    // 1, 1, 2, 2 and 1, where all windings face outward.
    CHECK(volume(mesh) == doctest::Approx(7.0).epsilon(1e-9));
}

TEST_CASE("3MF: objects in other documents of the package (production extension)") {
    const std::string root = model(
        R"(requiredextensions="p")",
        object(R"(id="8" name="whole")", R"(<components><component p:path="/3D/Objects/o.model"
objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 7"/></components>)"),
        R"(<item objectid="8" transform="2 0 0 0 2 0 0 0 2 0 0 0"/>)");
    const std::string other = model(R"(unit="millimeter")", object(R"(id="1")", wedge), "");
    const Mesh mesh = File(package(root, {{"3D/Objects/o.model", other}})).mesh();
    REQUIRE(mesh.parts().size() == 1);
    CHECK(mesh.parts()[0].name == "whole");  // the nearest that has a name
    check_bounds(mesh.parts()[0], {0, 0, 14}, {2, 4, 20});
    check_message(File(package(root)).message(), "its package has no \"3D/Objects/o.model\"");
}

TEST_CASE("3MF: supports stay out, and an empty build gives all that is no component") {
    const Mesh mesh = File(package(model("",
                                         object(R"(id="1" name="shell")", wedge) +
                                             object(R"(id="2" type="support")", wedge),
                                         R"(<item objectid="1"/><item objectid="2"/>)")))
                          .mesh();
    CHECK(mesh.parts().size() == 1);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0] == "support structures were left out: 1");

    const std::string pair = R"(<components><component objectid="1"/></components>)";
    const Mesh all =
        File(package(model("", object(R"(id="1" name="inner")", wedge) + object(R"(id="2")", pair),
                           "")))
            .mesh();
    CHECK(all.parts().size() == 1);
    CHECK(all.facts().warnings.at(0) == "its build lists nothing: all objects are taken");
}

TEST_CASE("3MF: the document that the relationships name, and materials of objects") {
    const std::string resources =
        R"(<basematerials id="5"><base name="brass"/><base name="tin"/></basematerials>)" +
        object(R"(id="1" name="shell" pid="5" pindex="1")", wedge);
    const std::string right = model("", resources, R"(<item objectid="1"/>)");
    const Mesh mesh = File(as_zip({{"_rels/.rels", relations("/other/a.model")},
                                   {"3D/3dmodel.model", model("", "", "")},
                                   {"other/a.model", right}}))
                          .mesh();
    CHECK(mesh.parts()[0].name == "shell");
    CHECK(mesh.parts()[0].material == "tin");
}

TEST_CASE("3MF: what is wrong is said") {
    const std::string item = R"(<item objectid="1"/>)";
    const std::string sound = package(model("", object(R"(id="1")", wedge), item));
    for (std::size_t size = 1; size < sound.size(); size += 7)
        CHECK(File(sound.substr(0, size)).message().find("; expected ") != std::string::npos);
    const auto message = [&](const std::string& attributes, const std::string& resources,
                             const std::string& build) {
        return File(package(model(attributes, resources, build))).message();
    };
    const auto with = [&](std::string text, const std::string& old, const std::string& other) {
        text.replace(text.find(old), old.size(), other);
        return message("", object(R"(id="1")", text), item);
    };
    check_message(with(wedge, "v3=\"3\"", "v3=\"9\""), "a face names vertex 9 of 4");
    check_message(with(wedge, "v3=\"3\"", "v3=\"-1\""), "a face names vertex -1 of 4");
    check_message(with(wedge, "2.0", "two"), "a coordinate of a vertex is \"two\"");
    check_message(message(R"(unit="ell")", object(R"(id="1")", wedge), item), "unit is \"ell\"");
    check_message(message("", object(R"(id="1")", wedge), R"(<item objectid="4"/>)"),
                  "an object \"4\" is placed that");
    check_message(message("", object(R"(id="1")", R"(<components><component objectid="1"/>
</components>)"),
                          item),
                  "its object \"1\" has itself among its components");
    check_message(
        message("", object(R"(id="1")", wedge), R"(<item objectid="1" transform="1 2"/>)"),
        "a number of a transform is \"\"");
    check_message(message("", "", ""), "it has no triangles");
    check_message(File("no zip at all").message(), "its package cannot be opened");
    check_message(File(as_zip({{"a.txt", "a"}})).message(), "its package has no 3D model");
    check_message(File(package("<model><resources>")).message(), "is no sound XML (line 1: ");
}

#ifndef __SANITIZE_ADDRESS__  // under which memory is not limited
TEST_CASE("3MF: places that are no copies are refused with figures before they take the memory") {
    // 100 triangles of 300 corners; each object has the one before 8 times, stretched in another
    // way: 8^5 of them.
    std::string corners, triangles;
    for (int i = 0; i < 300; ++i) {
        corners += "<vertex x=\"" + std::to_string(i) + "\" y=\"" + std::to_string(i % 3) +
                   "\" z=\"" + std::to_string(i % 2) + "\"/>";
        if (i % 3 == 0)
            triangles += "<triangle v1=\"" + std::to_string(i) + "\" v2=\"" +
                         std::to_string(i + 1) + "\" v3=\"" + std::to_string(i + 2) + "\"/>";
    }
    std::string objects =
        object(R"(id="1")", "<mesh><vertices>" + corners + "</vertices><triangles>" + triangles +
                                "</triangles></mesh>");
    for (int level = 2; level <= 6; ++level) {
        std::string components;
        for (int i = 1; i <= 8; ++i)
            components += "<component objectid=\"" + std::to_string(level - 1) +
                          "\" transform=\"1 0 0 0 1 0 0 0 1." + std::to_string(7 * level + i) +
                          " " + std::to_string(i) + " 0 0\"/>";
        objects += object("id=\"" + std::to_string(level) + "\"",
                          "<components>" + components + "</components>");
    }
    const File file(package(model("", objects, R"(<item objectid="6"/>)")));
    LoadOptions options = no_cache();
    options.memory_mib = 1000;  // beside what this process has
    const std::string message = bad_model_message(file.path, options);
    CAPTURE(message);
    CHECK(message.find("vertices, with all places that are no copies") != std::string::npos);
    CHECK(message.find("expected at most 1000 MiB") != std::string::npos);
}
#endif
