// FBX objects: where their geometry lies, and which of them are hidden. From memory of the FBX
// SDK's documentation: FbxNode ("geometric transformation", Visibility, VisibilityInheritance),
// FbxCluster, and "Computing transformation matrices": World = Parent * T * Roff * Rp * Rpre * R *
// Rpost^-1 * Rp^-1 * Soff * Sp * S * Sp^-1, and the geometry in it lies by OT * OR * OS, which
// children do not inherit.

#include <doctest/doctest.h>

#include <algorithm>
#include <bit>
#include <glm/gtc/matrix_transform.hpp>
#include <string>
#include <string_view>

#include "model/readers/fbx_visibility.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
using namespace std::literals;

namespace {

constexpr std::array<glm::dvec3, 4> corners{
    {{0.0, 0.0, 0.0}, {1.0, 0.0, 0.0}, {0.0, 2.0, 0.0}, {0.0, 0.0, 3.0}}};

std::string geometry(int id) {
    return "\tGeometry: " + std::to_string(id) +
           ", \"Geometry::g\", \"Mesh\" {\n\t\tVertices: *12 {\n"
           "\t\t\ta: 0,0,0,1,0,0,0,2,0,0,0,3\n\t\t}\n\t\tPolygonVertexIndex: *12 {\n"
           "\t\t\ta: 0,2,-2,0,1,-4,0,3,-3,1,2,-4\n\t\t}\n\t}\n";
}

/// A property of three numbers, as text.
std::string vector(const std::string& name, const std::string& numbers) {
    const std::string type = name.starts_with("Lcl") ? name : "Vector3D";
    return "\t\t\tP: \"" + name + "\", \"" + type + "\", \"\", \"A\"," + numbers + "\n";
}

std::string object(int id, const std::string& name, const std::string& properties,
                   const std::string& kind = "Mesh") {
    return "\tModel: " + std::to_string(id) + ", \"Model::" + name + "\", \"" + kind +
           "\" {\n\t\tVersion: 232\n\t\tProperties70:  {\n" + properties + "\t\t}\n\t}\n";
}

/// @param connections  "child,parent" of each; with a property's name behind it, of a property
std::string fbx(const std::string& objects, const std::vector<std::string>& connections) {
    std::string text =
        "; FBX 7.3.0 project file\nFBXHeaderExtension:  {\n\tFBXVersion: 7300\n}\n"
        "Objects:  {\n" +
        objects + "}\nConnections:  {\n";
    for (const std::string& pair : connections)
        text += "\tC: " + ((pair.ends_with('"') ? "\"OP\"," : "\"OO\",") + pair) + "\n";
    return text + "}\n";
}

Mesh mesh_of(const std::string& bytes, const PosingSettings& posing = {}) {
    const TemporaryFolder folder;
    write(folder / "a.fbx", bytes);
    LoadOptions options = no_cache();
    options.reading.posing = posing;
    return load_model(folder / "a.fbx", options);
}

// The importer multiplies and we round in single precision, of numbers up to 32: 2^-24 * 32 for
// each of some twenty roundings.
constexpr double roundings = 20.0 * 32.0 / 16777216.0;

void check_place(const Mesh& mesh, const std::string& name, const glm::dmat4& model_from_part) {
    CAPTURE(name);
    const auto part = std::find_if(mesh.parts().begin(), mesh.parts().end(),
                                   [&](const Part& p) { return p.name == name; });
    REQUIRE(part != mesh.parts().end());
    glm::dvec3 low(1e9), high(-1e9);
    for (const glm::dvec3& corner : corners) {
        const glm::dvec3 at(model_from_part * glm::dvec4(corner, 1.0));
        low = glm::min(low, at);
        high = glm::max(high, at);
    }
    CHECK(glm::distance(part->bounds.low, low) < roundings);
    CHECK(glm::distance(part->bounds.high, high) < roundings);
}

glm::dmat4 moved(double x, double y, double z) {
    return glm::translate(glm::dmat4(1.0), glm::dvec3(x, y, z));
}
glm::dmat4 turned(double degrees, glm::dvec3 axis) {
    return glm::rotate(glm::dmat4(1.0), glm::radians(degrees), axis);
}
glm::dmat4 scaled(double x, double y, double z) {
    return glm::scale(glm::dmat4(1.0), glm::dvec3(x, y, z));
}

const std::string own_place = vector("GeometricTranslation", "5,6,7") +
                              vector("GeometricRotation", "0,0,90") +
                              vector("GeometricScaling", "2,1,3");
const glm::dmat4 own_matrix = moved(5, 6, 7) * turned(90, {0, 0, 1}) * scaled(2, 1, 3);

/// "body" has a place of its own for its geometry, "limb" hangs on it.
std::string body_and_limb(const std::string& more = {}) {
    return geometry(10) + geometry(11) +
           object(20, "body", own_place + vector("Lcl Translation", "0,0,9")) +
           object(21, "limb", vector("Lcl Translation", "0,2,0")) + more;
}
const std::vector<std::string> joined{"20,0", "10,20", "21,20", "11,21"};

std::string curve(int id, const std::string& values) {
    return "\tAnimationCurve: " + std::to_string(id) +
           ", \"AnimCurve::\", \"\" {\n\t\tDefault: 0\n\t\tKeyVer: 4008\n"
           "\t\tKeyTime: *2 {\n\t\t\ta: 0,46186158000\n\t\t}\n"
           "\t\tKeyValueFloat: *2 {\n\t\t\ta: " +
           values +
           "\n\t\t}\n\t\tKeyAttrFlags: *1 {\n\t\t\ta: 24836\n\t\t}\n"
           "\t\tKeyAttrDataFloat: *4 {\n\t\t\ta: 0,0,0,0\n\t\t}\n"
           "\t\tKeyAttrRefCount: *1 {\n\t\t\ta: 2\n\t\t}\n\t}\n";
}

// ---- Binary files: a node is where it ends, how many properties of how many bytes, its name,
// these, and the nodes inside, which thirteen zeros end.

std::string little(std::uint64_t value, int bytes) {
    std::string text;
    for (int i = 0; i < bytes; ++i, value >>= 8) text += static_cast<char>(value & 0xFF);
    return text;
}
std::string words(std::string_view text) {
    return "S" + little(text.size(), 4) + std::string(text);
}
std::string id_of(std::uint64_t id) {
    return "L" + little(id, 8);
}

struct Node {
    std::string name;
    std::vector<std::string> properties;
    std::vector<Node> inside = {};
};

std::string bytes_of(const Node& node, std::size_t begin) {
    constexpr std::size_t head = 13;
    std::string properties, inside;
    for (const std::string& property : node.properties) properties += property;
    for (const Node& child : node.inside)
        inside +=
            bytes_of(child, begin + head + node.name.size() + properties.size() + inside.size());
    if (!node.inside.empty()) inside += std::string(head, '\0');
    const std::size_t end = begin + head + node.name.size() + properties.size() + inside.size();
    return little(end, 4) + little(node.properties.size(), 4) + little(properties.size(), 4) +
           little(node.name.size(), 1) + node.name + properties + inside;
}

Node binary_geometry(std::uint64_t id) {
    std::string points, indices;
    for (const glm::dvec3& corner : corners)
        for (int k = 0; k < 3; ++k) {
            points += little(std::bit_cast<std::uint64_t>(corner[k]), 8);
        }
    for (const int index : {0, 2, -2, 0, 1, -4, 0, 3, -3, 1, 2, -4})
        indices += little(static_cast<std::uint32_t>(index), 4);
    const std::string plain = little(12, 4) + little(0, 4);
    return {"Geometry",
            {id_of(id), words("g\0\1Geometry"sv), words("Mesh")},
            {{"Vertices", {"d" + plain + little(points.size(), 4) + points}},
             {"PolygonVertexIndex", {"i" + plain + little(indices.size(), 4) + indices}}}};
}

Node binary_object(std::uint64_t id, const std::string& name, std::vector<Node> properties) {
    // A place tells it from the others.
    const std::string nine = little(0x4022000000000000, 8);
    if (id == 21)
        properties.push_back({"P",
                              {words("Lcl Translation"), words("Lcl Translation"), words(""),
                               words("A"), "D" + nine, "D" + nine, "D" + nine}});
    return {"Model",
            {id_of(id), words(name + "\0\1Model"s), words("Mesh")},
            {{"Version", {"I" + little(232, 4)}}, {"Properties70", {}, std::move(properties)}}};
}

Node binary_visibility(const std::string& value) {
    return {"P", {words("Visibility"), words("Visibility"), words(""), words("A"), value}};
}

/// "body" and "limb" side by side.
std::string binary_fbx(const Node& of_limb) {
    const auto joins = [](std::uint64_t child, std::uint64_t parent) {
        return Node{"C", {words("OO"), id_of(child), id_of(parent)}};
    };
    std::string file = "Kaydara FBX Binary  \0\x1A\0"s + little(7400, 4);
    for (const Node& node : std::vector<Node>{
             {"FBXHeaderExtension", {}, {{"FBXVersion", {"I" + little(7400, 4)}}}},
             {"Objects",
              {},
              {binary_geometry(10), binary_geometry(11), binary_object(20, "body", {}),
               binary_object(21, "limb", {of_limb})}},
             {"Connections", {}, {joins(20, 0), joins(10, 20), joins(21, 0), joins(11, 21)}}})
        file += bytes_of(node, file.size());
    return file + std::string(13, '\0');
}

std::vector<std::string> names_of(const Mesh& mesh) {
    std::vector<std::string> names;
    for (const Part& part : mesh.parts()) names.push_back(part.name);
    return names;
}

const std::string hides = "\t\t\tP: \"Visibility\", \"Visibility\", \"\", \"A\",0\n";
const std::string stands_alone =
    "\t\t\tP: \"Visibility Inheritance\", \"Visibility Inheritance\", \"\", \"\",0\n";

}  // namespace

TEST_CASE("FBX: children do not inherit the place of their parent's geometry") {
    const Mesh mesh = mesh_of(fbx(body_and_limb(), joined));
    CHECK(names_of(mesh) == std::vector<std::string>{"body", "limb"});
    check_place(mesh, "body", moved(0, 0, 9) * own_matrix);
    check_place(mesh, "limb", moved(0, 0, 9) * moved(0, 2, 0));
}

// Both keys of the curve count: at half of its second it stands between 0 and 8.
TEST_CASE("FBX: nor do they when a clip moves the parent") {
    const std::string clip =
        "\tAnimationStack: 60, \"AnimStack::take\", \"\" {\n\t}\n"
        "\tAnimationLayer: 61, \"AnimLayer::base\", \"\" {\n\t}\n"
        "\tAnimationCurveNode: 62, \"AnimCurveNode::T\", \"\" {\n\t}\n" +
        curve(63, "0,8") + curve(64, "0,0") + curve(65, "9,9");
    std::vector<std::string> connections = joined;
    for (const char* pair : {"61,60", "62,61", "62,20, \"Lcl Translation\"", "63,62, \"d|X\"",
                             "64,62, \"d|Y\"", "65,62, \"d|Z\""})
        connections.emplace_back(pair);
    PosingSettings posing;
    posing.clip = "1";
    posing.clip_time_s = 0.5;
    const Mesh mesh = mesh_of(fbx(body_and_limb(clip), connections), posing);
    CHECK(names_of(mesh) == std::vector<std::string>{"body", "limb"});
    check_place(mesh, "body", moved(4, 0, 9) * own_matrix);
    check_place(mesh, "limb", moved(4, 0, 9) * moved(0, 2, 0));
}

// The bone is bound at z = 4 and stands at z = 14 now. Matrices are written column by column of
// what is multiplied from the left.
TEST_CASE(
    "FBX: bones carry a mesh whose geometry has a place of its own, and take none themselves") {
    const std::string skin =
        object(30, "bone", own_place + vector("Lcl Translation", "0,0,14"), "LimbNode") +
        "\tDeformer: 70, \"Deformer::\", \"Skin\" {\n\t\tVersion: 101\n\t}\n"
        "\tDeformer: 71, \"SubDeformer::\", \"Cluster\" {\n\t\tVersion: 100\n"
        "\t\tIndexes: *4 {\n\t\t\ta: 0,1,2,3\n\t\t}\n\t\tWeights: *4 {\n\t\t\ta: 1,1,1,1\n\t\t}\n"
        "\t\tTransform: *16 {\n\t\t\ta: 1,0,0,0,0,1,0,0,0,0,1,0,0,0,-4,1\n\t\t}\n"
        "\t\tTransformLink: *16 {\n\t\t\ta: 1,0,0,0,0,1,0,0,0,0,1,0,0,0,4,1\n\t\t}\n\t}\n";
    const Mesh mesh = mesh_of(fbx(geometry(10) + object(20, "body", own_place) + skin,
                                  {"20,0", "10,20", "30,0", "70,10", "71,70", "30,71"}));
    CHECK(mesh.facts().rig.bones == 1);
    check_place(mesh, "body", moved(0, 0, 10) * own_matrix);
}

TEST_CASE("FBX: a turn behind the object's own is taken back, one before it is not") {
    const Mesh mesh = mesh_of(fbx(
        geometry(10) + object(20, "body",
                              vector("PreRotation", "0,0,90") + vector("Lcl Rotation", "90,0,0") +
                                  vector("PostRotation", "0,90,0")),
        {"20,0", "10,20"}));
    check_place(mesh, "body",
                turned(90, {0, 0, 1}) * turned(90, {1, 0, 0}) * turned(-90, {0, 1, 0}));
}

TEST_CASE("FBX: hidden objects are left out and named, with what hangs on them") {
    const auto two = [](const std::string& of_body, const std::string& of_limb) {
        return fbx(geometry(10) + geometry(11) + object(20, "body", of_body) +
                       object(21, "limb", of_limb + vector("Lcl Translation", "0,2,0")) +
                       geometry(12) + object(22, "rest", vector("Lcl Translation", "9,0,0")),
                   {"20,0", "10,20", "21,20", "11,21", "22,0", "12,22"});
    };
    SUBCASE("alone") {
        const Mesh mesh = mesh_of(two("", hides));
        CHECK(names_of(mesh) == std::vector<std::string>{"body", "rest"});
        REQUIRE(mesh.facts().warnings.size() == 1);
        CHECK(mesh.facts().warnings[0].starts_with("hidden in the file and left out: \"limb\";"));
    }
    SUBCASE("its child too, which says nothing of its own") {
        const Mesh mesh = mesh_of(two(hides, ""));
        CHECK(names_of(mesh) == std::vector<std::string>{"rest"});
        REQUIRE(mesh.facts().warnings.size() == 1);
        CHECK(mesh.facts().warnings[0].starts_with(
            "hidden in the file and left out: \"body\", \"limb\";"));
    }
    SUBCASE("but not a child that does not inherit it") {
        CHECK(names_of(mesh_of(two(hides, stands_alone))) ==
              std::vector<std::string>{"limb", "rest"});
    }
    SUBCASE("a number other than 0 shows it") {
        std::string shows = hides;
        shows.replace(shows.find(",0"), 2, ",0.5");
        CHECK(mesh_of(two("", shows)).parts().size() == 3);
    }
    SUBCASE("a file in which all is hidden is taken") {
        const Mesh mesh = mesh_of(fbx(geometry(10) + object(20, "body", hides), {"20,0", "10,20"}));
        CHECK(mesh.parts().size() == 1);
        REQUIRE(mesh.facts().warnings.size() == 1);
        CHECK(mesh.facts().warnings[0].starts_with("all objects are hidden in the file: \"body\""));
    }
}

TEST_CASE("FBX: objects of binary files are hidden too") {
    const std::string one = "D" + little(0x3FF0000000000000, 8), none = "D" + little(0, 8);
    CHECK(names_of(mesh_of(binary_fbx(binary_visibility(one)))) ==
          std::vector<std::string>{"body", "limb"});
    CHECK(names_of(mesh_of(binary_fbx(binary_visibility(none)))) ==
          std::vector<std::string>{"body"});
}

TEST_CASE("FBX: words that only look like a property stay as they are") {
    const std::string other = "P: \"Visibility\"x\"2,\"Visibility\"y\"3,\"A\",0\n";
    CHECK_FALSE(with_visibility(other));
    const auto widened = with_visibility(other + hides);
    REQUIRE(widened);
    CHECK(widened->starts_with(other));
    CHECK(widened->size() == other.size() + hides.size());
    // Read once: from each of its words to its end it would take hours.
    std::string words;
    for (int i = 0; i < 1'000'000; ++i) words += "\"Visibility\"";
    CHECK_FALSE(with_visibility(words));
}
