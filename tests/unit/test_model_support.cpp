#include "test_model_support.hpp"

#include <doctest/doctest.h>
#include <unistd.h>
#include <zlib.h>
#include <iterator>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <map>
#include <sstream>
#include <utility>

#include "error.hpp"

namespace model_test {
namespace fs = std::filesystem;
using namespace rakelight;

TemporaryFolder::TemporaryFolder() {
    std::string name = (fs::temp_directory_path() / "model-test-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
}

void write(const fs::path& file, const std::string& bytes) {
    std::ofstream out(file, std::ios::binary);
    out << bytes;
    out.close();
    REQUIRE(out.good());
}

std::string read(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

Model box(glm::vec3 low, glm::vec3 high) {
    Model m;
    for (unsigned i = 0; i < 8; ++i)
        m.points.emplace_back((i & 1) != 0 ? high.x : low.x, (i & 2) != 0 ? high.y : low.y,
                              (i & 4) != 0 ? high.z : low.z);
    m.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                   {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    return m;
}

Model tetrahedron() {
    return {{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
            {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
            {}};
}

namespace {

std::vector<glm::dvec3> icosahedron_points() {
    const double t = (1.0 + std::sqrt(5.0)) / 2.0;
    return {{-1, t, 0},  {1, t, 0},  {-1, -t, 0}, {1, -t, 0}, {0, -1, t},  {0, 1, t},
            {0, -1, -t}, {0, 1, -t}, {t, 0, -1},  {t, 0, 1},  {-t, 0, -1}, {-t, 0, 1}};
}

using Triangles = std::vector<std::array<std::uint32_t, 3>>;

Triangles cut(const Triangles& triangles, std::vector<glm::dvec3>& points) {
    std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint32_t> middles;
    const auto middle = [&](std::uint32_t a, std::uint32_t b) {
        const auto [at, is_new] =
            middles.emplace(std::minmax(a, b), static_cast<std::uint32_t>(points.size()));
        if (is_new) points.push_back(points[a] + points[b]);
        return at->second;
    };
    Triangles out;
    for (const auto& [a, b, c] : triangles) {
        const std::uint32_t ab = middle(a, b), bc = middle(b, c), ca = middle(c, a);
        out.insert(out.end(), {{a, ab, ca}, {ab, b, bc}, {ca, bc, c}, {ab, bc, ca}});
    }
    return out;
}

std::string raw(const void* data, std::size_t size) {
    return {static_cast<const char*>(data), size};
}

template <class T>
std::string raw(const T& value) {
    return raw(&value, sizeof value);
}

std::string number(float v) {
    std::array<char, 32> text{};
    std::snprintf(text.data(), text.size(), "%.9g", static_cast<double>(v));
    return text.data();
}

std::string numbers(glm::vec3 v) {
    return number(v.x) + " " + number(v.y) + " " + number(v.z);
}

std::string ply_header(const Model& m, const std::string& format) {
    const std::string floats =
        "property float x\nproperty float y\nproperty float z\n" +
        std::string(
            m.normals.empty() ? "" : "property float nx\nproperty float ny\nproperty float nz\n");
    return "ply\nformat " + format + " 1.0\nelement vertex " + std::to_string(m.points.size()) +
           "\n" + floats + "element face " + std::to_string(m.triangles.size()) +
           "\nproperty list uchar int vertex_indices\nend_header\n";
}

std::string base64(const std::string& bytes) {
    static constexpr const char* digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t v = 0;
        for (std::size_t k = 0; k < 3; ++k)
            v = (v << 8) | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u);
        for (std::size_t k = 0; k < 4; ++k)
            text += i + k > bytes.size() ? '=' : digits[(v >> (18 - 6 * k)) & 63];
    }
    return text;
}

}  // namespace

Model sphere(double radius, int times) {
    std::vector<glm::dvec3> points = icosahedron_points();
    Triangles triangles = {{0, 11, 5}, {0, 5, 1},  {0, 1, 7},   {0, 7, 10}, {0, 10, 11},
                           {1, 5, 9},  {5, 11, 4}, {11, 10, 2}, {10, 7, 6}, {7, 1, 8},
                           {3, 9, 4},  {3, 4, 2},  {3, 2, 6},   {3, 6, 8},  {3, 8, 9},
                           {4, 9, 5},  {2, 4, 11}, {6, 2, 10},  {8, 6, 7},  {9, 8, 1}};
    for (; times > 0; --times) {
        for (glm::dvec3& p : points) p = glm::normalize(p);
        triangles = cut(triangles, points);
    }
    Model m;
    for (const glm::dvec3& p : points) m.points.emplace_back(radius * glm::normalize(p));
    m.triangles = std::move(triangles);
    return m;
}

Model together(const Model& a, const Model& b) {
    Model m = a;
    const auto offset = static_cast<std::uint32_t>(a.points.size());
    m.points.insert(m.points.end(), b.points.begin(), b.points.end());
    for (const auto& t : b.triangles)
        m.triangles.push_back({t[0] + offset, t[1] + offset, t[2] + offset});
    return m;
}

void turn(Model& model, std::size_t triangle) {
    std::swap(model.triangles[triangle][1], model.triangles[triangle][2]);
}

std::string as_ply(const Model& m) {
    std::string text = ply_header(m, "ascii");
    for (const glm::vec3& p : m.points) text += numbers(p) + "\n";
    for (const auto& t : m.triangles)
        text += "3 " + std::to_string(t[0]) + " " + std::to_string(t[1]) + " " +
                std::to_string(t[2]) + "\n";
    return text;
}

std::string as_binary_ply(const Model& m) {
    std::string bytes = ply_header(m, "binary_little_endian");
    for (std::size_t i = 0; i < m.points.size(); ++i) {
        bytes += raw(m.points[i]);
        if (!m.normals.empty()) bytes += raw(m.normals[i]);
    }
    for (const auto& t : m.triangles) bytes.append(1, '\3').append(raw(t));
    return bytes;
}

std::string as_obj(const Model& m) {
    std::string text;
    for (const glm::vec3& p : m.points) text += "v " + numbers(p) + "\n";
    for (const auto& t : m.triangles)
        text += "f " + std::to_string(t[0] + 1) + " " + std::to_string(t[1] + 1) + " " +
                std::to_string(t[2] + 1) + "\n";
    return text;
}

std::string as_stl(const Model& m) {
    std::string text = "solid shape\n";
    for (const auto& t : m.triangles) {
        text += "facet normal 0 0 0\nouter loop\n";
        for (const std::uint32_t i : t) text += "vertex " + numbers(m.points[i]) + "\n";
        text += "endloop\nendfacet\n";
    }
    return text + "endsolid shape\n";
}

std::string as_binary_stl(const Model& m) {
    std::string bytes(80, ' ');
    bytes += raw(static_cast<std::uint32_t>(m.triangles.size()));
    for (const auto& t : m.triangles) {
        bytes += raw(glm::vec3(0.0f));
        for (const std::uint32_t i : t) bytes += raw(m.points[i]);
        bytes += std::string(2, '\0');
    }
    return bytes;
}

std::string gltf_buffer(const Model& m) {
    return raw(m.points.data(), 12 * m.points.size()) +
           raw(m.triangles.data(), 12 * m.triangles.size()) +
           raw(m.normals.data(), 12 * m.normals.size());
}

std::string as_gltf(const Model& m, const std::string& uri, const std::string& node) {
    const std::string buffer = gltf_buffer(m);
    const std::string size = std::to_string(buffer.size());
    const std::string points = std::to_string(m.points.size());
    const std::string indices = std::to_string(3 * m.triangles.size());
    const std::string split = std::to_string(12 * m.points.size());
    glm::vec3 low = m.points[0], high = low;
    for (const glm::vec3& p : m.points) low = glm::min(low, p), high = glm::max(high, p);
    const auto list = [](glm::vec3 v) {
        return std::string("[")
            .append(number(v.x) + ",")
            .append(number(v.y) + ",")
            .append(number(v.z) + "]");
    };
    const std::string data =
        uri.empty() ? "data:application/octet-stream;base64," + base64(buffer) : uri;
    const std::string normals_view =
        m.normals.empty() ? ""
                          : R"(,{"buffer":0,"byteOffset":)" +
                                std::to_string(12 * (m.points.size() + m.triangles.size())) +
                                R"(,"byteLength":)" + std::to_string(12 * m.normals.size()) + "}";
    const std::string normals_accessor =
        m.normals.empty()
            ? ""
            : R"(,{"bufferView":2,"componentType":5126,"count":)" + points + R"(,"type":"VEC3"})";
    return R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],
"nodes":[{"name":"shape","mesh":0)" +
           (node.empty() ? "" : "," + node) + R"(}],
"meshes":[{"primitives":[{"attributes":{"POSITION":0)" +
           (m.normals.empty() ? "" : R"(,"NORMAL":2)") + R"(},"indices":1}]}],
"buffers":[{"byteLength":)" +
           size + R"(,"uri":")" + data + R"("}],
"bufferViews":[{"buffer":0,"byteOffset":0,"byteLength":)" +
           split + R"(},{"buffer":0,"byteOffset":)" + split + R"(,"byteLength":)" +
           std::to_string(12 * m.triangles.size()) + "}" + normals_view + R"(],
"accessors":[{"bufferView":0,"componentType":5126,"count":)" +
           points + R"(,"type":"VEC3","min":)" + list(low) + R"(,"max":)" + list(high) + R"(},
{"bufferView":1,"componentType":5125,"count":)" +
           indices + R"(,"type":"SCALAR"})" + normals_accessor + "]}";
}

namespace {

std::string little(std::uint32_t value, int bytes) {
    std::string text;
    for (int i = 0; i < bytes; ++i) text += static_cast<char>((value >> (8 * i)) & 0xFF);
    return text;
}

std::string deflated(const std::string& bytes) {
    z_stream stream{};
    REQUIRE(deflateInit2(&stream, 9, Z_DEFLATED, -15, 9, Z_DEFAULT_STRATEGY) == Z_OK);
    std::string out(deflateBound(&stream, static_cast<uLong>(bytes.size())), '\0');
    stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
    stream.avail_in = static_cast<uInt>(bytes.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    REQUIRE(deflate(&stream, Z_FINISH) == Z_STREAM_END);
    out.resize(stream.total_out);
    deflateEnd(&stream);
    return out;
}

}  // namespace

std::string as_zip(const std::vector<std::pair<std::string, std::string>>& entries) {
    std::string files, directory;
    for (const auto& [name, bytes] : entries) {
        const auto sum = static_cast<std::uint32_t>(crc32(
            0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
        const std::string packed = deflated(bytes);
        // Version 2.0, no flags, deflate, 1 January 1980.
        const std::string common =
            little(20, 2) + little(0, 2) + little(8, 2) + little(0, 2) + little(0x21, 2) +
            little(sum, 4) + little(static_cast<std::uint32_t>(packed.size()), 4) +
            little(static_cast<std::uint32_t>(bytes.size()), 4) +
            little(static_cast<std::uint32_t>(name.size()), 2) + little(0, 2);
        directory += "PK\x01\x02" + little(20, 2) + common + little(0, 2) + little(0, 2) +
                     little(0, 2) + little(0, 4) +
                     little(static_cast<std::uint32_t>(files.size()), 4) + name;
        files += "PK\x03\x04" + common + name + packed;
    }
    const auto count = static_cast<std::uint32_t>(entries.size());
    return files + directory + "PK\x05\x06" + little(0, 4) + little(count, 2) + little(count, 2) +
           little(static_cast<std::uint32_t>(directory.size()), 4) +
           little(static_cast<std::uint32_t>(files.size()), 4) + little(0, 2);
}

std::string as_collada(const Collada& document) {
    const auto words = [](const std::string& text) {
        std::istringstream in(text);
        return std::distance(std::istream_iterator<std::string>(in), {});
    };
    const auto numbers = words(document.points);
    return R"(<?xml version="1.0"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset>)" +
           document.asset + R"(</asset>
<library_geometries><geometry id="g"><mesh><source id="p"><float_array id="a" count=")" +
           std::to_string(numbers) + "\">" + document.points +
           R"(</float_array><technique_common><accessor source="#a" count=")" +
           std::to_string(numbers / 3) + R"(" stride="3"><param name="X" type="float"/>
<param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
<triangles count=")" +
           std::to_string(words(document.corners) / 3) +
           R"("><input semantic="VERTEX" source="#v" offset="0"/><p>)" + document.corners +
           R"(</p></triangles></mesh></geometry></library_geometries>
<library_visual_scenes><visual_scene id="s">)" +
           document.nodes +
           R"(</visual_scene></library_visual_scenes>
<scene><instance_visual_scene url="#s"/></scene></COLLADA>)";
}

LoadOptions no_cache() {
    LoadOptions options;
    options.cache.use = false;
    return options;
}

Mesh load(const Model& model, LoadOptions options) {
    const TemporaryFolder folder;
    write(folder / "model.ply", as_binary_ply(model));
    return load_model(folder / "model.ply", options);
}

std::string bad_model_message(const fs::path& file, const LoadOptions& options) {
    try {
        load_model(file, options);
    } catch (const Error& e) {
        return (e.code() == ExitCode::bad_model ? "" : "another error: ") + std::string(e.what());
    }
    return "no error";
}

glm::dvec3 position(const Vertex& vertex) {
    return {vertex.position[0], vertex.position[1], vertex.position[2]};
}

glm::dvec3 winding_normal(const Mesh& mesh, std::size_t triangle) {
    const auto corner = [&](std::size_t k) {
        return position(mesh.vertices()[mesh.indices()[3 * triangle + k]]);
    };
    return glm::cross(corner(1) - corner(0), corner(2) - corner(0));
}

double volume(const Mesh& mesh, const Part& part) {
    double six = 0.0;
    const glm::dvec3 origin = mesh.bounds().centre();  // a far one would cost digits
    const PartSurface surface = mesh.surface(static_cast<std::size_t>(&part - mesh.parts().data()));
    for (std::size_t t = 0; t < part.triangle_count; ++t) {
        const auto [a, b, c] = surface.corners(t);
        six += glm::dot(a - origin, glm::cross(b - a, c - a));
    }
    return six / 6.0;
}

double volume(const Mesh& mesh) {
    double sum = 0.0;
    for (const Part& part : mesh.parts()) sum += volume(mesh, part);
    return sum;
}

}  // namespace model_test
