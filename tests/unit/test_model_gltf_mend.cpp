// What the importer leaves out of glTF 2.0 files, or gets wrong. Sections are those of the glTF 2.0
// specification and of its registered extensions, from memory.

#include <doctest/doctest.h>

#include <cstring>
#include <nlohmann/json.hpp>
#include <string>

#include "model/readers/gltf_contents.hpp"
#include "model/readers/gltf_mend.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
using nlohmann::json;

namespace {

/// A glTF file whose buffer, model.bin, grows with each accessor.
class Document {
public:
    json tree = json::parse(R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],
        "nodes":[{"mesh":0}],"meshes":[{"primitives":[{"attributes":{}}]}],"accessors":[],
        "bufferViews":[]})");
    std::string buffer;

    /// @param component  5120 to 5126, see 3.6.2.2
    template <typename Number>
    std::size_t add(const std::vector<Number>& numbers, const char* type, std::size_t components,
                    int component, bool normalized = false) {
        buffer.append((4 - buffer.size() % 4) % 4, '\0');
        tree["bufferViews"].push_back({{"buffer", 0},
                                       {"byteOffset", buffer.size()},
                                       {"byteLength", sizeof(Number) * numbers.size()}});
        buffer.append(reinterpret_cast<const char*>(numbers.data()),
                      sizeof(Number) * numbers.size());
        json& accessors = tree["accessors"];
        accessors.push_back({{"bufferView", tree["bufferViews"].size() - 1},
                             {"componentType", component},
                             {"count", numbers.size() / components},
                             {"type", type},
                             {"normalized", normalized}});
        return accessors.size() - 1;
    }

    json& attributes() { return tree["meshes"][0]["primitives"][0]["attributes"]; }

    /// The tetrahedron with right angles at the origin, its points as floats.
    void add_tetrahedron() {
        attributes()["POSITION"] =
            add<float>({0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1}, "VEC3", 3, 5126);
        add_faces();
    }
    void add_faces() {
        tree["meshes"][0]["primitives"][0]["indices"] =
            add<std::uint16_t>({0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3}, "SCALAR", 1, 5123);
    }

    /// Writes it and its buffer, under a name that the JSON gives as `uri`.
    std::filesystem::path write_to(const TemporaryFolder& folder, const std::string& name = "m.bin",
                                   const std::string& uri = "m.bin") {
        tree["buffers"] = {{{"byteLength", buffer.size()}, {"uri", uri}}};
        write(folder / name, buffer);
        write(folder / "model.gltf", tree.dump());
        return folder / "model.gltf";
    }

    Mesh mesh() {
        const TemporaryFolder folder;
        return load_model(write_to(folder), no_cache());
    }
};

}  // namespace

// KHR_mesh_quantization: positions as whole numbers, normalized ones as parts of 1 (3.6.2.2), with
// the node's matrix to undo it.
TEST_CASE("glTF: corners that are whole numbers lie where the extension says") {
    for (const bool normalized : {false, true}) {
        CAPTURE(normalized);
        Document document;
        document.tree["extensionsRequired"] = {"KHR_mesh_quantization"};
        const std::uint16_t one = normalized ? 65535 : 100;
        document.attributes()["POSITION"] = document.add<std::uint16_t>(
            {0, 0, 0, one, 0, 0, 0, one, 0, 0, 0, one}, "VEC3", 3, 5123, normalized);
        document.add_faces();
        document.tree["nodes"][0]["scale"] = {2, 2, 2};
        const Mesh mesh = document.mesh();
        CHECK(mesh.triangle_count() == 4);
        const double side = normalized ? 2.0 : 200.0;
        CHECK(volume(mesh) == doctest::Approx(side * side * side / 6.0).epsilon(1e-6));
    }
}

TEST_CASE("glTF: signed bytes are parts of 127, and no less than -1") {
    Document document;
    document.attributes()["POSITION"] = document.add<std::int8_t>(
        {-128, 0, 0, 127, 0, 0, -127, 127, 0, -127, 0, 127}, "VEC3", 3, 5120, true);
    document.add_faces();
    const Mesh mesh = document.mesh();
    CHECK(mesh.bounds().low.x == -1.0);
    CHECK(mesh.bounds().high.x == 1.0);
}

TEST_CASE("glTF: an extension that it requires and nobody here knows is named") {
    const TemporaryFolder folder;
    Document document;
    document.add_tetrahedron();
    document.tree["extensionsRequired"] = {"KHR_materials_unlit", "EXT_meshopt_compression"};
    const std::string message = bad_model_message(document.write_to(folder));
    CHECK(message.find("requires the glTF extension \"EXT_meshopt_compression\"") !=
          std::string::npos);
    // It hides nodes, which would be shown.
    document.tree["extensionsRequired"] = {"KHR_node_visibility"};
    CHECK(bad_model_message(document.write_to(folder)).find("KHR_node_visibility") !=
          std::string::npos);
    document.tree["extensionsRequired"] = {"KHR_materials_unlit"};
    CHECK(load_model(document.write_to(folder), no_cache()).triangle_count() == 4);
}

// EXT_mesh_gpu_instancing.
TEST_CASE("glTF: a mesh that a node shows in many places stands in each of them") {
    Document document;
    document.add_tetrahedron();
    const auto shifts = document.add<float>({0, 0, 0, 5, 0, 0, 0, 9, 0}, "VEC3", 3, 5126);
    const auto scales = document.add<float>({1, 1, 1, 2, 2, 2, 1, 1, 1}, "VEC3", 3, 5126);
    document.tree["nodes"][0]["name"] = "leaf";
    document.tree["nodes"][0]["translation"] = {100, 0, 0};
    document.tree["nodes"][0]["extensions"]["EXT_mesh_gpu_instancing"]["attributes"] = {
        {"TRANSLATION", shifts}, {"SCALE", scales}};
    const Mesh mesh = document.mesh();
    REQUIRE(mesh.parts().size() == 3);
    CHECK(mesh.copies().size() == 2);
    CHECK(mesh.parts()[1].name == "leaf#2");
    CHECK(mesh.bounds().low.x == doctest::Approx(100.0));
    CHECK(mesh.bounds().high.x == doctest::Approx(107.0));
    CHECK(mesh.bounds().high.y == doctest::Approx(10.0));
}

// 3.7.3.3: weights are floats, or normalized bytes or shorts. 5.28: without matrices those of the
// identity. The second joint lifts the points that it moves by 3.
TEST_CASE("glTF: weights as whole numbers, and skins without matrices, move what they say") {
    for (const int component : {5126, 5121, 5123}) {
        CAPTURE(component);
        Document document;
        document.add_tetrahedron();
        document.attributes()["JOINTS_0"] = document.add<std::uint8_t>(
            {0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0}, "VEC4", 4, 5121);
        const std::vector<int> shares{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0};
        const auto weights = [&]<typename Number>(Number one, bool normalized) {
            std::vector<Number> numbers;
            for (const int share : shares) numbers.push_back(share == 0 ? Number{0} : one);
            return document.add<Number>(numbers, "VEC4", 4, component, normalized);
        };
        document.attributes()["WEIGHTS_0"] = component == 5126 ? weights(1.0F, false)
                                             : component == 5121
                                                 ? weights(std::uint8_t{255}, true)
                                                 : weights(std::uint16_t{65535}, true);
        document.tree["skins"] = {{{"joints", {1, 2}}}};
        document.tree["nodes"] =
            json::parse(R"([{"mesh":0,"skin":0},{"name":"a"},{"name":"b","translation":[0,0,3]}])");
        document.tree["scenes"][0]["nodes"] = {0, 1, 2};
        const Mesh mesh = document.mesh();
        CHECK(mesh.bounds().high.z == doctest::Approx(4.0));
        CHECK(mesh.bounds().high.x == doctest::Approx(1.0));
        CHECK(mesh.bounds().low.z == doctest::Approx(0.0));
    }
}

// 2.8 and RFC 3986: a URI escapes blanks and what is no ASCII.
TEST_CASE("glTF: a buffer is found under its own name and under the one that is escaped") {
    const TemporaryFolder folder;
    Document document;
    document.add_tetrahedron();
    const auto file = document.write_to(folder, "my data#\xC3\xA4.bin", "my%20data%23%C3%A4.bin");
    CHECK(load_model(file, no_cache()).triangle_count() == 4);
    Document as_it_stands;
    as_it_stands.add_tetrahedron();
    CHECK(load_model(as_it_stands.write_to(folder, "a%20b.bin", "a%20b.bin"), no_cache())
              .triangle_count() == 4);
}

TEST_CASE("glTF: a byte order mark, and names in an old encoding, do no harm") {
    const TemporaryFolder folder;
    Document document;
    document.add_tetrahedron();
    const auto file = document.write_to(folder);
    const std::string text = read(file);
    write(file, "\xEF\xBB\xBF" + text);
    CHECK(load_model(file, no_cache()).triangle_count() == 4);
    std::string latin = text;
    latin.insert(latin.find("\"mesh\":0"), "\"name\":\"\xC4mmon\",");
    write(file, latin);
    CHECK(load_model(file, no_cache()).parts()[0].name == "_mmon");
}

// KHR_texture_transform: its texCoord goes before that of the texture's own.
TEST_CASE("glTF: the set of coordinates is that of the transform") {
    const TemporaryFolder folder;
    Document document;
    document.add_tetrahedron();
    document.tree["materials"] = json::parse(R"([{"normalTexture":{"index":0,"texCoord":0,
        "extensions":{"KHR_texture_transform":{"texCoord":1}}}}])");
    const auto file = document.write_to(folder);
    RecordingIo io(file, {});
    const auto mended = mended_gltf(file, io);
    REQUIRE(mended.has_value());
    CHECK(json::parse(*mended)["materials"][0]["normalTexture"]["texCoord"] == 1);
}

TEST_CASE("glTF: what nothing is wrong with stays as it is") {
    const TemporaryFolder folder;
    Document document;
    document.add_tetrahedron();
    const auto file = document.write_to(folder);
    RecordingIo io(file, {});
    CHECK_FALSE(mended_gltf(file, io).has_value());
}

TEST_CASE("glTF: what a file holds is counted, as far as it holds together") {
    const TemporaryFolder folder;
    const auto contents = [&](Document& document, const ReadingSettings& reading = {}) {
        const auto file = document.write_to(folder);
        RecordingIo io(file, {});
        return gltf_contents(file, io, reading).value();
    };
    Document document;
    document.add_tetrahedron();
    document.tree["nodes"] = json::parse(R"([{"mesh":0},{"mesh":0,"translation":[9,0,0]},
        {"mesh":0,"scale":[1,1,-1]}])");
    document.tree["scenes"][0]["nodes"] = {0, 1, 2};
    CHECK(contents(document).stored.triangles == 8);  // one is a copy, one is mirrored
    CHECK(contents(document).in_file.triangles == 4);
    ReadingSettings cage;
    cage.cage.rule = CageRule::loop;
    CHECK(contents(document, cage).stored.triangles == 12);
    // Targets that no weight moves leave it a copy (3.7.2.2).
    document.tree["meshes"][0]["primitives"][0]["targets"] = {{{"POSITION", 0}}};
    CHECK(contents(document).stored.triangles == 8);
    document.tree["meshes"][0]["weights"] = {0.5};
    CHECK(contents(document).stored.triangles == 12);
    // More than its buffer can hold: nothing is believed but its size.
    document.tree["accessors"][0]["count"] = 4'000'000'000U;
    CHECK_FALSE(contents(document).counted);
    CHECK(contents(document).buffer_bytes == document.buffer.size());
    // A node that is its own child, three times: found by the fuzz target, by its time.
    Document loop;
    loop.add_tetrahedron();
    loop.tree["nodes"][0]["children"] = {0, 0, 0};
    CHECK_FALSE(contents(loop).counted);
}
