// What a file shows several times is stored once. Where everything lies is checked against the
// matrices in test_model_hierarchy.cpp and test_model_threemf.cpp; here, what is stored and what is
// not, and that nothing else tells a copy from a part of its own.

#include <doctest/doctest.h>

#include <algorithm>
#include <glm/gtc/matrix_transform.hpp>
#include <string>
#include <vector>

#include "model/confined/file_handle.hpp"
#include "model/confined/private_file.hpp"
#include "model/facts_json.hpp"
#include "model/mesh_file.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

/// A glTF file whose only mesh stands at the origin and at each of these nodes.
std::string with_nodes(const Model& model, const std::vector<std::string>& nodes) {
    std::string children, list;
    for (std::size_t i = 0; i < nodes.size(); ++i) {
        children += (i > 0 ? "," : "") + std::to_string(i + 1);
        list += "},{\"mesh\":0," + nodes[i];
    }
    return as_gltf(model, "", "\"children\":[" + children + "]" + list);
}

Mesh mesh_with(const Model& model, const std::vector<std::string>& nodes,
               const LoadOptions& options = no_cache()) {
    const TemporaryFolder folder;
    write(folder / "a.gltf", with_nodes(model, nodes));
    return load_model(folder / "a.gltf", options);
}

/// Without its last triangle; with normals of its own where asked.
Model open_sheet(bool normals) {
    Model model = tetrahedron();
    model.triangles.pop_back();
    if (normals) model.normals.assign(model.points.size(), glm::normalize(glm::vec3(1.0F)));
    return model;
}

const std::string again = R"("name":"again")";
const std::string aside = R"("name":"b","translation":[5,0,0])";

}  // namespace

TEST_CASE("a shape that is turned, moved and scaled evenly is stored once") {
    const Mesh mesh = mesh_with(
        tetrahedron(), {aside, R"("name":"c","rotation":[0.5,0.5,0.5,0.5],"scale":[2,2,2])",
                        R"("name":"d","translation":[0,9,0],"scale":[0.5,0.5,0.5])"});
    CHECK(mesh.indices().size() == 3 * 4);
    CHECK(mesh.copies().size() == 3);
    CHECK(mesh.triangle_count() == 16);
    CHECK(mesh.vertex_count() == 4 * mesh.vertices().size());
    CHECK(mesh.facts().triangles_in_file == 16);
    CHECK(mesh.facts().shells == 1);
    CHECK(mesh.facts().closed);
    // Scales of 1, 1, 2 and 1/2 make 1, 1, 8 and 1/8 of the tetrahedron's 1/6.
    CHECK(volume(mesh) == doctest::Approx(10.125 / 6.0).epsilon(1e-6));
    CHECK(mesh.bounds().high.x == doctest::Approx(6.0).epsilon(1e-6));
    CHECK(mesh.bounds().high.y == doctest::Approx(9.5).epsilon(1e-6));
}

TEST_CASE("what is not the same shape again is stored as often as the file shows it") {
    const auto copies = [](const Model& model, const std::string& node) {
        const Mesh mesh = mesh_with(model, {node});
        CHECK(mesh.triangle_count() == 2 * model.triangles.size());
        CHECK(mesh.indices().size() / 3 == (2 - mesh.copies().size()) * model.triangles.size());
        return mesh.copies().size();
    };
    CHECK(copies(tetrahedron(), aside) == 1);
    CHECK(copies(tetrahedron(), R"("translation":[5,0,0],"scale":[-1,1,1])") == 0);
    CHECK(copies(tetrahedron(), R"("translation":[5,0,0],"scale":[1,1,1.01])") == 0);
    CHECK(copies(tetrahedron(), R"("translation":[9,0,0],"scale":[5,5,5])") == 0);
    CHECK(copies(tetrahedron(),
                 R"("matrix":[1,0,0,0, 0.2,1,0,0, 0,0,1,0, 5,0,0,1])") == 0);  // a shear
    // Two mirrored ones repeat each other.
    const std::string mirrored = R"("scale":[-1,1,1],"translation":[)";
    CHECK(mesh_with(tetrahedron(), {mirrored + "4,0,0]", mirrored + "8,0,0]"}).copies().size() ==
          1);
}

// Where normals are made, an open edge becomes smooth when another part is welded to it.
TEST_CASE("open shapes are copies where their normals come from the file, and only there") {
    CHECK(mesh_with(open_sheet(true), {aside}).copies().size() == 1);
    CHECK(mesh_with(open_sheet(false), {aside}).copies().empty());
    LoadOptions made = no_cache();
    made.reading.normals = NormalSource::made;
    CHECK(mesh_with(open_sheet(true), {aside}, made).copies().empty());
    CHECK(mesh_with(tetrahedron(), {aside}, made).copies().size() == 1);
}

TEST_CASE("a part that lies on itself is a doubled shell, and no copy") {
    for (const auto& nodes :
         {std::vector<std::string>{again}, {again, aside, again}, {aside, again}}) {
        const Mesh mesh = mesh_with(tetrahedron(), nodes);
        const bool moved = nodes.size() > 1;
        CHECK(mesh.facts().dropped_doubled == 4 * (nodes.size() - (moved ? 1 : 0)));
        CHECK(mesh.parts().size() == (moved ? 2 : 1));
        CHECK(mesh.facts().triangles_in_file == 4 * (nodes.size() + 1));
    }
}

// A float has 24 bits: at 10^5 units its steps are 2^-7, which is coarse for a tetrahedron of 1.
TEST_CASE("a place far out is stored for itself, and those near the origin repeat another one") {
    const Mesh mesh =
        mesh_with(tetrahedron(), {R"("translation":[5,0,0])", R"("translation":[0,5,0])"});
    CHECK(mesh.copies().size() == 2);
    const TemporaryFolder folder;
    write(folder / "far.gltf",
          as_gltf(tetrahedron(), "", R"("translation":[100000.3,0,0],"children":[1,2]},
{"mesh":0,"translation":[-100000.3,0,0]},{"mesh":0,"translation":[-100000.3,3,0])"));
    const Mesh far = load_model(folder / "far.gltf", no_cache());
    REQUIRE(far.parts().size() == 3);
    CHECK(far.copies().size() == 1);
    for (std::size_t i = 1; i < 3; ++i)
        CHECK(volume(far, far.parts()[i]) == doctest::Approx(1.0 / 6.0).epsilon(1e-5));
}

// What is no number, or too large for a float, is dropped as it is without copies; the others stay.
TEST_CASE("places that are no places take no others with them") {
    const std::string good = R"("name":"good","translation":[3,0,0])";
    for (const std::string bad :
         {R"("rotation":[0,1e300,1e300,1])", R"("translation":[1e38,0,0],"scale":[9,9,9])",
          R"("scale":[0,0,0])", R"("translation":[3e38,3e38,0])"}) {
        CAPTURE(bad);
        for (const auto& nodes :
             {std::vector<std::string>{bad, good}, {good, bad}, {bad, bad, good}}) {
            const Mesh mesh = mesh_with(tetrahedron(), nodes);
            bool there = false;
            for (const Part& part : mesh.parts())
                there = there || (part.name == "good" && part.triangle_count == 4);
            CHECK(there);
        }
    }
}

TEST_CASE("ten thousand places that cannot repeat each other are looked at in no time of note") {
    std::vector<std::string> nodes;
    for (int i = 0; i < 10000; ++i)
        nodes.push_back(R"("scale":[1,1,)" + std::to_string(2 + i) + R"(.5],"translation":[)" +
                        std::to_string(2 * i + 2) + ",0,0]");
    LoadOptions options = no_cache();
    options.limits.cpu_s = 20;  // comparing each with all took more by itself
    CHECK(mesh_with(tetrahedron(), nodes, options).copies().empty());
}

TEST_CASE("a cage's places are smoothed each for itself") {
    LoadOptions options = no_cache();
    options.reading.cage.rule = CageRule::loop;
    CHECK(mesh_with(tetrahedron(), {aside}, options).copies().empty());
}

// A triangle that lies on one of another part is dropped, but the copies of its part need it.
TEST_CASE("what touches the part that is stored does not touch its copies") {
    const Mesh mesh =
        mesh_with(tetrahedron(), {R"("name":"second","scale":[1,1,-1])",
                                  R"("name":"third","translation":[5,0,0],"scale":[1,1,-1])"});
    REQUIRE(mesh.copies().size() == 1);
    CHECK(mesh.parts()[2].name == "third");
    // The first two have a triangle in common, on z = 0.
    for (const Part& part : mesh.parts()) {
        CHECK(part.triangle_count == 4);
        CHECK(volume(mesh, part) == doctest::Approx(1.0 / 6.0).epsilon(1e-6));
    }
}

TEST_CASE("names are numbered in the order of the file, copies or not") {
    const std::string name = R"("name":"pin",)";
    const Mesh mesh =
        mesh_with(tetrahedron(), {name + R"("translation":[2,0,0])", name + R"("scale":[1,2,1])",
                                  name + R"("translation":[4,0,0])"});
    REQUIRE(mesh.parts().size() == 4);
    CHECK(mesh.parts()[0].name == "shape");
    CHECK(mesh.parts()[1].name == "pin#2");  // the second of the name, and first that is stored
    CHECK(mesh.parts()[2].name == "pin");
    CHECK(mesh.parts()[3].name == "pin#3");
    CHECK(mesh.parts()[1].copy == no_copy);
    CHECK(mesh.copies()[mesh.parts()[2].copy].of == 0);
}

TEST_CASE("clusters of copies hold their triangles, and their bounds are those of all corners") {
    const Model model = sphere(1.0, 5);  // 20,480 triangles: five clusters
    const Mesh mesh = mesh_with(
        model, {R"("rotation":[0.1825742,0.3651484,0.5477226,0.7302967],"translation":[3,0,1])"});
    REQUIRE(mesh.copies().size() == 1);
    std::uint32_t next = 0;
    for (const Cluster& c : mesh.clusters()) {
        CHECK(c.first_triangle == next);
        next += c.triangle_count;
        const bool copied = c.first_triangle >= mesh.parts()[1].first_triangle;
        const std::uint32_t first = c.first_triangle - (copied ? 20480 : 0);
        for (std::uint32_t t = first; t < first + c.triangle_count; ++t)
            for (const glm::dvec3& p : mesh.surface(copied ? 1 : 0).corners(t))
                for (int k = 0; k < 3; ++k) {
                    REQUIRE(p[k] >= double{c.low[static_cast<std::size_t>(k)]});
                    REQUIRE(p[k] <= double{c.high[static_cast<std::size_t>(k)]});
                }
    }
    CHECK(next == mesh.triangle_count());
    // Of a sphere whose points lie within 0.001 of each axis' end; a float's rounding besides.
    CHECK(glm::distance(mesh.parts()[1].bounds.low, glm::dvec3(2, -1, 0)) < 2e-3);
    CHECK(glm::distance(mesh.parts()[1].bounds.high, glm::dvec3(4, 1, 2)) < 2e-3);
}

TEST_CASE("a mesh file whose copies name what is not there is refused") {
    const auto is_taken = [](const auto& spoil) {
        FlatMesh mesh;
        for (const glm::vec3 p : {glm::vec3(0), glm::vec3(1, 0, 0), glm::vec3(0, 1, 0)})
            mesh.vertices.push_back({{p.x, p.y, p.z}, {}});
        for (const std::uint32_t i : {0, 1, 2}) mesh.indices.push_back(i);
        mesh.clusters = {{0, 1, {}, {1, 1, 0}}, {1, 1, {}, {1, 1, 0}}};
        mesh.parts = {{"a", "", 0, 1, {}}, {"b", "", 1, 1, {}}};
        mesh.parts[1].copy = 0;
        mesh.copies = {{0, {}, 0, 3, 0}};
        spoil(mesh);
        const FileHandle file = open_private_file();
        write_mesh_file(file.get(), mesh);
        return map_mesh_file(file.get()) != nullptr;
    };
    CHECK(is_taken([](FlatMesh&) {}));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].of = 1; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].of = 7; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].vertex_count = 2; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].first_vertex = 1; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].vertex_count = 0xFFFFFFFF; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].placement.linear[0] = {-1, 0, 0}; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies[0].placement.shift.y = INFINITY; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies.push_back(m.copies[0]); }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.copies.clear(); }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.parts[1].copy = no_copy; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.parts[0].copy = 0; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.parts[1].triangle_count = 2; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.parts[1].detail = 0; }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.clusters.pop_back(); }));
    // More copies than parts, and a cluster across two parts.
    CHECK_FALSE(is_taken([](FlatMesh& m) {
        m.parts = {{"a", "", 0, 1, {}, no_detail, 0}};
        m.copies.assign(2, {0xFFFFFFF0, {}, 0, 3, 0});
        m.clusters.pop_back();
    }));
    CHECK_FALSE(is_taken([](FlatMesh& m) { m.clusters = {{0, 2, {}, {1, 1, 0}}}; }));
}

// An import that was taken over may write anything: conversions of what is no whole number are not
// defined ([conv.fpint] of the C++ standard).
TEST_CASE("a mesh file's numbers are whole and fit, or it is refused") {
    FlatMesh mesh;
    mesh.parts = {{"a", "", 0, 1, {}}, {"b", "", 1, 1, {}}};
    mesh.copies = {{0, {}, 0, 3, 0}};
    mesh.planes = {{1, 1, 1, 1.0, 0}};
    const std::string text = to_json(mesh);
    const auto is_read = [](const std::string& json) {
        Mesh::Mapping mapping(nullptr, 0);
        try {
            from_json(json, mapping);
        } catch (const std::exception&) {
            return false;
        }
        return true;
    };
    REQUIRE(is_read(text));
    for (const std::string before : {R"("parts":[["a","",)", R"("copies":[[)", R"("file_bytes":)",
                                     R"("shells":)", R"("planes":[[)"}) {
        CAPTURE(before);
        const std::size_t at = text.find(before);
        REQUIRE(at != std::string::npos);
        const std::size_t first = at + before.size();
        const std::size_t end = text.find_first_not_of("0123456789", first);
        for (const std::string number :
             {"-3.5", "0.5", "-1", "1e300", "99999999999999999999", "\"0\""})
            CHECK_FALSE(is_read(text.substr(0, first) + number + text.substr(end)));
    }
}
