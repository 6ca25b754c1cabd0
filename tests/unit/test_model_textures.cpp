// Pictures of a model's materials: which are found, what is made of them, and what happens to those
// that cannot be used.

#include <doctest/doctest.h>

#include <algorithm>
#include <numbers>

#include "model/mesh_file.hpp"
#include "model/readers/import.hpp"
#include "model/readers/texture_planes.hpp"
#include "test_model_support.hpp"
#include "test_picture_support.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using texture_test::as_gltf;
using texture_test::Folder;
using texture_test::normal_map;
using texture_test::sheet;
using texture_test::Textured;

namespace {

constexpr double tau = 2.0 * std::numbers::pi;

std::string waves(int size = 64) {
    return normal_map(
        size, size, [](double u, double) { return glm::dvec2(0.3 * std::cos(tau * 4 * u), 0.0); });
}

double value(const Mesh& mesh, std::uint32_t plane, std::uint32_t x, std::uint32_t y,
             std::uint32_t channel) {
    const TexturePlane& p = mesh.planes()[plane];
    return mesh.texels()[p.first + (std::uint64_t{y} * p.width + x) * p.channels + channel] *
           p.scale;
}

std::string one_warning(const Mesh& mesh) {
    REQUIRE(mesh.facts().warnings.size() == 1);
    return mesh.facts().warnings.front();
}

}  // namespace

TEST_CASE("a normal map becomes the slopes that it was made of, and heights") {
    const Mesh mesh = texture_test::load(sheet(10.0, 2, 2.0), waves());
    CHECK(mesh.facts().warnings.empty());
    REQUIRE(mesh.details().size() == 1);
    const SurfaceDetail& detail = mesh.details()[0];
    CHECK(detail.from_normals);
    REQUIRE(detail.slopes.has_value());
    REQUIRE(detail.heights.has_value());
    CHECK(mesh.parts()[0].detail == 0);
    CHECK(mesh.detail_vertices().size() == mesh.vertices().size());
    for (std::uint32_t x = 0; x < 64; ++x) {
        const double phase = tau * 4 * (x + 0.5) / 64;
        // Codes are off by half of 1/65535 in the direction, texels by half of 8/32767 at most.
        CHECK(std::fabs(value(mesh, detail.slopes->plane, x, 10, 0) - 0.3 * std::cos(phase)) <
              1e-4);
        CHECK(std::fabs(value(mesh, detail.slopes->plane, x, 10, 1)) < 1e-4);
        // One u is 5 units; the integral of the slope along them is a sine. It tiles, so that
        // nothing is faded.
        const double height = 0.3 * 5.0 / (tau * 4) * std::sin(phase);
        CHECK(std::fabs(value(mesh, detail.heights->plane, x, 10, 0) - height) < 2e-4);
    }
}

TEST_CASE("materials that share a picture share its planes, heights where it has the same shape") {
    const Folder folder;
    folder.write("n.png", waves());
    // Four pictures each, of 5 x 5 units, 10 x 10 and 10 x 5.
    const std::array<std::array<int, 2>, 3> sizes{{{10, 10}, {20, 20}, {20, 10}}};
    std::string model = "mtllib m.mtl\nvt 0 0\nvt 2 0\nvt 2 2\nvt 0 2\n", materials;
    for (std::size_t i = 0; i < sizes.size(); ++i) {
        const std::string name = "m" + std::to_string(i), z = " " + std::to_string(i) + "\n";
        const std::string x = std::to_string(sizes[i][0]), y = std::to_string(sizes[i][1]);
        materials += "newmtl " + name + "\nnorm n.png\n";
        model += "v 0 0" + z + "v " + x + " 0" + z + "v " + x + " " + y + z + "v 0 " + y + z +
                 "usemtl " + name + "\nf -4/1 -3/2 -2/3 -1/4\n";
    }
    folder.write("m.mtl", materials);
    folder.write("a.obj", model);
    const Mesh mesh = texture_test::load(folder / "a.obj");
    REQUIRE(mesh.details().size() == 3);
    std::array<std::uint64_t, 3> texels{};
    std::array<double, 3> height{};
    for (std::size_t i = 0; i < texels.size(); ++i) {
        const SurfaceDetail& detail = mesh.details()[i];
        REQUIRE(detail.slopes);
        REQUIRE(detail.heights);
        CHECK(detail.slopes->plane == mesh.details()[0].slopes->plane);
        texels[i] = mesh.planes()[detail.heights->plane].first;
        height[i] = value(mesh, detail.heights->plane, 4, 10, 0);
    }
    CHECK(texels[1] == texels[0]);
    CHECK(texels[2] != texels[0]);
    // As above; and the same slopes over twice the way.
    CHECK(std::fabs(height[0] - 0.3 * 5.0 / (tau * 4) * std::sin(tau * 4 * 4.5 / 64)) < 2e-4);
    CHECK(std::fabs(height[1] - 2 * height[0]) < 1e-9);
    CHECK(std::fabs(height[2] - 2 * height[0]) < 4e-4);
}

TEST_CASE("the heights of a map with slopes both ways are its surface, on spans that differ") {
    // h = a sin(tau (2 u + 3 v)) over spans of 4 and 7 units.
    const auto height = [](double u, double v) { return 0.2 * std::sin(tau * (2 * u + 3 * v)); };
    RawPlane slopes{60, 50, 2, {}};
    for (int y = 0; y < 50; ++y)
        for (int x = 0; x < 60; ++x) {
            const double u = (x + 0.5) / 60, v = 1.0 - (y + 0.5) / 50;
            const double c = 0.2 * tau * std::cos(tau * (2 * u + 3 * v));
            slopes.values.push_back(static_cast<float>(2 * c / 4.0));
            slopes.values.push_back(static_cast<float>(3 * c / 7.0));
        }
    const RawPlane heights = heights_from_slopes(slopes, {4.0, 7.0, true});
    REQUIRE(heights.values.size() == 3000);
    for (int y = 0; y < 50; ++y)
        for (int x = 0; x < 60; ++x) {
            const double wanted = height((x + 0.5) / 60, 1.0 - (y + 0.5) / 50);
            // Single precision through two transforms.
            REQUIRE(std::fabs(heights.values[static_cast<std::size_t>(60 * y + x)] - wanted) <
                    1e-5);
        }
}

TEST_CASE("a smaller level is the area mean of the one before, whatever the size") {
    RawPlane plane{5, 3, 1, {}};
    for (int i = 0; i < 15; ++i) plane.values.push_back(static_cast<float>(i * i));
    const RawPlane half = halved(plane);
    REQUIRE(half.width == 2);
    REQUIRE(half.height == 1);
    double all = 0.0;
    for (const float v : plane.values) all += v;
    CHECK((half.values[0] + half.values[1]) / 2 == doctest::Approx(all / 15).epsilon(1e-6));
    // The left half: columns 0, 1 and half of 2.
    double left = 0.0;
    for (int y = 0; y < 3; ++y)
        left += plane.values[static_cast<std::size_t>(5 * y)] +
                plane.values[static_cast<std::size_t>(5 * y + 1)] +
                0.5 * plane.values[static_cast<std::size_t>(5 * y + 2)];
    CHECK(half.values[0] == doctest::Approx(left / 7.5).epsilon(1e-6));
}

TEST_CASE("a model without pictures has neither vertices of detail nor texels") {
    Textured plain = sheet(10.0, 2);
    plain.material = R"({"name": "plain"})";
    const Mesh mesh = texture_test::load(plain, "");
    CHECK(mesh.details().empty());
    CHECK(mesh.detail_vertices().empty());
    CHECK(mesh.texels().empty());
    CHECK(mesh.facts().textures.empty());
    // The same where they are not wanted.
    const Mesh unwanted = texture_test::load(sheet(10.0, 2), waves(), {.maps = false});
    CHECK(unwanted.detail_vertices().empty());
    CHECK(unwanted.vertices().size() == mesh.vertices().size());
}

TEST_CASE("pictures are found where they are, whatever machine wrote their path") {
    struct Case {
        const char* uri;
        const char* lies_at;
    };
    for (const Case c : {Case{"map.png", "map.png"}, Case{"a/map.png", "a/map.png"},
                         Case{"a\\\\map.png", "a/map.png"}, Case{"my%20map.png", "my map.png"},
                         Case{"D:/models/tex/map.png", "map.png"},
                         Case{"D:\\\\models\\\\tex\\\\map.png", "tex/map.png"},
                         Case{"/home/maker/map.png", "textures/map.png"},
                         Case{"Map.PNG", "map.png"}, Case{"TEX/Map.PNG", "tex/map.png"}}) {
        CAPTURE(c.uri);
        const Folder folder;
        Textured model = sheet(10.0, 2);
        model.image = std::string(R"({"uri": ")") + c.uri + "\"}";
        folder.write(c.lies_at, waves());
        folder.write("model.gltf", as_gltf(model));
        const Mesh mesh = texture_test::load(folder / "model.gltf");
        CHECK(mesh.details().size() == 1);
        REQUIRE(mesh.facts().textures.size() == 1);
        CHECK(mesh.facts().textures[0].found == c.lies_at);
        CHECK(mesh.facts().textures[0].width == 64);
        CHECK(mesh.facts().warnings.empty());
    }
}

TEST_CASE("an embedded picture needs no file, as a data URI and as a buffer view") {
    Textured model = sheet(10.0, 2);
    model.image = R"({"uri": "data:image/png;base64,)" + texture_test::base64(waves()) + "\"}";
    const Mesh mesh = texture_test::load(model, "");
    REQUIRE(mesh.facts().textures.size() == 1);
    CHECK(mesh.facts().textures[0].found == "embedded");
    CHECK(mesh.facts().textures[0].state == "read");
    CHECK(mesh.details().size() == 1);

    std::string text = as_gltf(sheet(10.0, 2));
    const std::string picture = waves();
    const auto replace = [&](const std::string& from, const std::string& to) {
        REQUIRE(text.find(from) != std::string::npos);
        text.replace(text.find(from), from.size(), to);
    };
    replace(R"({"uri": "map.png"})", R"({"bufferView": 4, "mimeType": "image/png"})");
    replace("\"buffers\": [", R"("buffers": [{"byteLength": )" + std::to_string(picture.size()) +
                                  R"(, "uri": "data:application/octet-stream;base64,)" +
                                  texture_test::base64(picture) + "\"},");
    for (int i = 0; i < 4; ++i) replace(R"("buffer": 0, "byteO)", R"("buffer": 1, "byteO)");
    replace("], \"buffers\"", R"(,{"buffer": 0, "byteOffset": 0, "byteLength": )" +
                                  std::to_string(picture.size()) + "}], \"buffers\"");
    const Folder folder;
    folder.write("model.gltf", text);
    const Mesh view = texture_test::load(folder / "model.gltf");
    REQUIRE(view.facts().textures.size() == 1);
    CHECK(view.facts().textures[0].found == "embedded");
    CHECK(view.details().size() == 1);
}

TEST_CASE("a picture that only an extension of glTF names is found, in .gltf and .glb") {
    const std::string picture = picture_test::tiff16(
        8, 8, [](int, int, int c) { return static_cast<std::uint16_t>(c == 2 ? 65535 : 32768); });
    for (const char* extension : {"EXT_texture_webp", "MSFT_texture_dds", "KHR_texture_basisu"}) {
        CAPTURE(extension);
        const Folder folder;
        folder.write("map.png", picture);  // the content counts, not the name
        std::string text = as_gltf(sheet(10.0, 2));
        const auto replace = [&](const std::string& from, const std::string& to) {
            REQUIRE(text.find(from) != std::string::npos);
            text.replace(text.find(from), from.size(), to);
        };
        replace(R"("textures": [{"source": 0, )", std::string(R"("textures": [{"extensions": {")") +
                                                      extension + R"(": {"source": 0}}, )");
        replace(R"("extensionsUsed": [)", std::string(R"("extensionsRequired": [")") + extension +
                                              R"("], "extensionsUsed": [")" + extension + "\", ");
        folder.write("model.gltf", text);
        const Mesh mesh = texture_test::load(folder / "model.gltf");
        REQUIRE(mesh.facts().textures.size() == 1);
        CHECK(mesh.facts().textures[0].state == "read");
        CHECK(mesh.details().size() == 1);
        // A .glb with the same JSON (glTF 2.0, 4.4).
        using picture_test::little;
        replace(R"("buffers": [)", R"("buffers": [{"byteLength": 4}, )");
        for (int i = 0; i < 4; ++i) replace(R"("buffer": 0, "byteO)", R"("buffer": 1, "byteO)");
        const std::string json = text + std::string((4 - text.size() % 4) % 4, ' ');
        folder.write("model.glb", "glTF" + little(2) + little(12 + 8 + json.size() + 8 + 4) +
                                      little(json.size()) + "JSON" + json + little(4) +
                                      std::string("BIN\0", 4) + little(0));
        const Mesh binary = texture_test::load(folder / "model.glb");
        REQUIRE(binary.facts().textures.size() == 1);
        CHECK(binary.facts().textures[0].state == "read");
    }
}

TEST_CASE("a texture's own source goes before that of an extension, and Basis is told") {
    const Folder folder;
    std::string text = as_gltf(sheet(10.0, 2));
    const auto replace = [&](const std::string& from, const std::string& to) {
        REQUIRE(text.find(from) != std::string::npos);
        text.replace(text.find(from), from.size(), to);
    };
    replace(R"({"uri": "map.png"})", R"({"uri": "map.png"}, {"uri": "map.ktx2"})");
    replace(R"("textures": [{)", R"("textures": [{"extensions": {"KHR_texture_basisu":
            {"source": 1}}, )");
    folder.write("map.png", waves());
    folder.write("map.ktx2", picture_test::ktx2(4, 4, 0, std::string(64, 'x'), 1));
    folder.write("model.gltf", text);
    const Mesh mesh = texture_test::load(folder / "model.gltf");
    REQUIRE(mesh.facts().textures.size() == 1);
    CHECK(mesh.facts().textures[0].found == "map.png");
    replace(R"("source": 0, )", "");
    folder.write("model.gltf", text);
    const Mesh basis = texture_test::load(folder / "model.gltf");
    CHECK(one_warning(basis).find("it is a KTX 2 file of Basis Universal texels, which are not "
                                  "read; unpack it to PNG") != std::string::npos);
}

TEST_CASE("an embedded picture is read whatever its format, and heights beyond 1 are told") {
    Textured model = sheet(10.0, 2);
    const std::string flat = picture_test::tiff16(
        8, 8, [](int x, int, int c) { return static_cast<std::uint16_t>(c == 0 ? 4000 * x : 0); });
    const std::string floats =
        picture_test::dds(2, 1, {.code = picture_test::little(114)},  // D3DFMT_R32F
                          picture_test::little(0x40000000) + picture_test::little(0xC0000000));
    model.image = R"({"uri": "data:image/webp;base64,)" + texture_test::base64(flat) + "\"}";
    const Mesh mesh = texture_test::load(model, "");
    REQUIRE(mesh.facts().textures.size() == 1);
    CHECK(mesh.facts().textures[0].state == "read");
    model.image =
        R"({"uri": "data:image/vnd-ms.dds;base64,)" + texture_test::base64(floats) + "\"}";
    const Mesh spread = texture_test::load(model, "");
    CHECK(one_warning(spread).find("embedded 0\": its values run from -2 to 2, beyond 0 to 1: the "
                                   "least was taken for black") != std::string::npos);
    CHECK(value(spread, spread.details()[0].heights->plane, 0, 0, 0) ==
          doctest::Approx(0.5).epsilon(1e-4));
}

TEST_CASE("a missing picture is a warning with every path that was tried") {
    Textured model = sheet(10.0, 2);
    model.material = R"({"name": "shell", "normalTexture": {"index": 0}})";
    model.image = R"({"uri": "D:/models/rock_n.png"})";
    const Mesh mesh = texture_test::load(model, "");
    const std::string text = one_warning(mesh);
    CHECK(
        text.find("the normal map of material \"shell\", \"D:/models/rock_n.png\", was not found; "
                  "tried \"models/rock_n.png\", \"rock_n.png\", \"textures/rock_n.png\"") == 0);
    CHECK(text.find("; put it beside the model") != std::string::npos);
    CHECK(mesh.details().empty());
    REQUIRE(mesh.facts().textures.size() == 1);
    CHECK(mesh.facts().textures[0].state == "missing");
    CHECK(mesh.facts().textures[0].tried.size() > 3);
}

TEST_CASE("pictures that are damaged or hostile cost a warning, never the model") {
    const std::string whole = waves();
    struct Case {
        std::string bytes;
        const char* says;
    };
    using namespace std::string_literals;
    // The whole picture with another size in its header (bytes 16 to 23).
    const auto claimed = [&](std::uint32_t width, std::uint32_t height) {
        std::string size;
        texture_test::append_number(size, width);
        texture_test::append_number(size, height);
        return whole.substr(0, 16) + size + whole.substr(24);
    };
    const std::vector<Case> cases = {
        {"x", "it cannot be read"},
        {claimed(0, 5), "it cannot be read"},
        {claimed(5, 0), "it cannot be read"},
        {claimed(0x7FFFFFFF, 0x7FFFFFFF), "it c"},
        {claimed(16384, 16384), "it claims 16384 x 16384 pixels; expected 1 to 16384 a side"},
        {whole.substr(0, whole.size() / 2), "it cannot be read"},
        {"DDS |"s + std::string(200, '\0'),
         "its DDS header says it has 124 and 0 bytes; expected 124"},
        {"\xABKTX 20\xBB\r\n\x1A\n"s, "it is cut short"},
        {"RIFF\x10\0\0\0WEBPVP8 "s, "it is a WebP file that is cut short"},
        {"II*\0abcdefgh"s, "it is a TIFF file that cannot be read"},
        {"v/1\x01 abc"s, "it is cut short: it promises 1 bytes from byte 8 on and has 8"},
        {"#?RADIANCE\n"s, "it is a Radiance HDR file, which is not read; save it as PNG"},
    };
    for (const Case& c : cases) {
        CAPTURE(c.says);
        const Mesh mesh = texture_test::load(sheet(10.0, 2), c.bytes);
        CHECK(mesh.indices().size() == 3 * 8);
        CHECK(mesh.details().empty());
        INFO(one_warning(mesh));
        CHECK(one_warning(mesh).find(c.says) != std::string::npos);
    }
    // Every truncation of a small one.
    const std::string small = texture_test::tga(3, 3, [](double, double) { return 0.3; });
    for (std::size_t size = 0; size < small.size(); ++size) {
        CAPTURE(size);
        const Mesh mesh = texture_test::load(sheet(10.0, 2), small.substr(0, size));
        REQUIRE(mesh.indices().size() == 3 * 8);
    }
}

TEST_CASE("an OBJ's material library brings its maps, and without maps our reader takes the file") {
    const Folder folder;
    folder.write("n.png", waves());
    folder.write("m.mtl", "newmtl rock\nnorm n.png\n");
    folder.write("a.obj",
                 "mtllib m.mtl\nv 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nusemtl rock\n"
                 "f 1/1 2/2 3/3\n");
    const Mesh mesh = texture_test::load(folder / "a.obj");
    REQUIRE(mesh.details().size() == 1);
    CHECK(mesh.details()[0].from_normals);
    CHECK(mesh.facts().textures[0].use == "normal map");
    // A normal map in the slot for bumps is told by its content.
    folder.write("m.mtl", "newmtl rock\nmap_bump n.png\n");
    CHECK(texture_test::load(folder / "a.obj").details()[0].from_normals);
    folder.write("n.png", texture_test::png(8, 8, 1, [](double u, double, int) { return u; }));
    const Mesh bump = texture_test::load(folder / "a.obj");
    CHECK_FALSE(bump.details()[0].from_normals);
    CHECK(bump.facts().textures[0].use == "bump map");
    // From -0.5 to 0.5 over the picture.
    CHECK(value(bump, bump.details()[0].heights->plane, 0, 0, 0) ==
          doctest::Approx(0.5 / 8 - 0.5).epsilon(1e-3));
}

TEST_CASE("alphaMode MASK makes a mask with its cut-off; OPAQUE makes none") {
    const std::string picture = texture_test::tga(
        16, 16, [](double u, double v) { return std::hypot(u - 0.5, v - 0.5) < 0.3 ? 1.0 : 0.0; });
    Textured model = sheet(10.0, 2);
    model.material =
        R"({"alphaMode": "MASK", "alphaCutoff": 0.7, "pbrMetallicRoughness":
            {"baseColorTexture": {"index": 0}}})";
    const Mesh mesh = texture_test::load(model, picture);
    REQUIRE(mesh.details().size() == 1);
    CHECK(mesh.details()[0].mask.has_value());
    CHECK(mesh.details()[0].cut_off == doctest::Approx(0.7));
    model.material = R"({"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}}})";
    CHECK(texture_test::load(model, picture).details().empty());
}

TEST_CASE("an OBJ's map_d cuts by its grey; a colour picture there is refused with a warning") {
    const Folder folder;
    folder.write("m.mtl", "newmtl leaf\nmap_d d.png\n");
    folder.write("a.obj",
                 "mtllib m.mtl\nv 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nusemtl leaf\n"
                 "f 1/1 2/2 3/3\n");
    folder.write("d.png", texture_test::png(8, 8, 1, [](double u, double, int) { return u; }));
    const Mesh cut = texture_test::load(folder / "a.obj");
    REQUIRE(cut.details().size() == 1);
    REQUIRE(cut.details()[0].mask.has_value());
    CHECK(value(cut, cut.details()[0].mask->plane, 6, 0, 0) ==
          doctest::Approx(6.5 / 8).epsilon(1e-3));
    folder.write("d.png", texture_test::png(
                              8, 8, 3, [](double u, double, int c) { return c == 0 ? u : 0.2; }));
    const Mesh coloured = texture_test::load(folder / "a.obj");
    CHECK(coloured.details().empty());
    CHECK(one_warning(coloured).find("it is a colour picture without alpha") != std::string::npos);
}
