#include "shapes.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdio>
#include <cstring>

#include "support.hpp"

namespace cli_test {
namespace {

constexpr double pi = 3.14159265358979323846;

std::string raw_float(double value) {
    const auto single = static_cast<float>(value);
    std::string bytes(4, '\0');
    std::memcpy(bytes.data(), &single, 4);
    return bytes;
}

std::string raw_triple(glm::dvec3 v) {
    return raw_float(v.x) + raw_float(v.y) + raw_float(v.z);
}

std::string ply_header(const Model& model) {
    std::string header = "ply\nformat binary_little_endian 1.0\nelement vertex " +
                         std::to_string(model.points.size()) + "\n";
    for (const char* name : {"x", "y", "z"}) header += std::string("property float ") + name + "\n";
    if (!model.normals.empty()) {
        for (const char* name : {"nx", "ny", "nz"}) {
            header += std::string("property float ") + name + "\n";
        }
    }
    return header + "element face " + std::to_string(model.triangles.size()) +
           "\nproperty list uchar int vertex_indices\nend_header\n";
}

std::string obj_group(const char* name, const Model& model, std::size_t first) {
    std::string text = std::string("o ") + name + "\n";
    char line[120];
    for (const auto& p : model.points) {
        std::snprintf(line, sizeof line, "v %.9g %.9g %.9g\n", p.x, p.y, p.z);
        text += line;
    }
    for (const auto& t : model.triangles) {
        std::snprintf(line, sizeof line, "f %zu %zu %zu\n", t[0] + first, t[1] + first,
                      t[2] + first);
        text += line;
    }
    return text;
}

// One side of a cube as a grid of (n + 1)^2 points, pushed out onto the sphere.
Model sphere_side(const glm::dmat3& turn, double r, int n) {
    Model side;
    const auto corner = [&](int i, int j) {
        // Equal angles rather than equal lengths: triangles of nearly one size.
        const double u = std::tan(pi / 4.0 * (2.0 * i / n - 1.0));
        const double v = std::tan(pi / 4.0 * (2.0 * j / n - 1.0));
        return glm::normalize(turn * glm::dvec3(u, v, 1.0));
    };
    for (int j = 0; j <= n; ++j) {
        for (int i = 0; i <= n; ++i) {
            side.normals.push_back(corner(i, j));
            side.points.push_back(r * side.normals.back());
        }
    }
    const auto at = [n](int i, int j) { return static_cast<std::uint32_t>(j * (n + 1) + i); };
    for (int j = 0; j < n; ++j) {
        for (int i = 0; i < n; ++i) {
            side.triangles.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1)});
            side.triangles.push_back({at(i, j), at(i + 1, j + 1), at(i, j + 1)});
        }
    }
    return side;
}

template <typename T>
void append(std::string& bytes, T value) {
    bytes.append(reinterpret_cast<const char*>(&value), sizeof value);
}

struct Section {
    std::size_t count;
    const char *type, *more;
    int component;
    std::string bytes;
};

std::vector<Section> sections_of(const Model& model) {
    std::vector<Section> all{
        {model.points.size(), "VEC3", R"(,"min":[-9,-9,-9],"max":[9,9,9])", 5126, {}},
        {model.points.size(), "VEC3", "", 5126, {}},
        {model.points.size(), "VEC2", "", 5126, {}},
        {3 * model.triangles.size(), "SCALAR", "", 5125, {}}};
    for (std::size_t i = 0; i < model.points.size(); ++i) {
        for (int k = 0; k < 3; ++k) {
            append(all[0].bytes, static_cast<float>(model.points[i][k]));
            append(all[1].bytes, static_cast<float>(model.normals[i][k]));
        }
        for (int k = 0; k < 2; ++k) append(all[2].bytes, static_cast<float>(model.points[i][k]));
    }
    for (const auto& triangle : model.triangles)
        for (const std::uint32_t index : triangle) append(all[3].bytes, index);
    return all;
}

}  // namespace

Model polygon(const std::vector<glm::dvec3>& corners) {
    Model model;
    model.points = corners;
    for (std::uint32_t i = 2; i < corners.size(); ++i) model.triangles.push_back({0, i - 1, i});
    return model;
}

Model plate(double a, double b, double slope_x, double slope_y) {
    const auto corner = [&](double x, double y) {
        return glm::dvec3(x, y, slope_x * x + slope_y * y);
    };
    return polygon({corner(-a, -b), corner(a, -b), corner(a, b), corner(-a, b)});
}

Model disc(double r, int n) {
    std::vector<glm::dvec3> corners;
    for (int i = 0; i < n; ++i) {
        corners.emplace_back(r * std::cos(2.0 * pi * i / n), r * std::sin(2.0 * pi * i / n), 0.0);
    }
    return polygon(corners);
}

Model sphere(double r, int n) {
    using glm::dmat3;
    Model all = sphere_side(dmat3(1, 0, 0, 0, 1, 0, 0, 0, 1), r, n);
    all = joined(all, sphere_side(dmat3(-1, 0, 0, 0, 1, 0, 0, 0, -1), r, n));
    all = joined(all, sphere_side(dmat3(0, 1, 0, 0, 0, 1, 1, 0, 0), r, n));
    all = joined(all, sphere_side(dmat3(0, -1, 0, 0, 0, 1, -1, 0, 0), r, n));
    all = joined(all, sphere_side(dmat3(0, 0, 1, 1, 0, 0, 0, 1, 0), r, n));
    return joined(all, sphere_side(dmat3(0, 0, -1, 1, 0, 0, 0, -1, 0), r, n));
}

Model cone(double r, double h, int n) {
    Model model = disc(r, n);
    model.points.emplace_back(0.0, 0.0, h);
    model.triangles.clear();
    for (int i = 0; i < n; ++i) {
        model.triangles.push_back({static_cast<std::uint32_t>(i),
                                   static_cast<std::uint32_t>((i + 1) % n),
                                   static_cast<std::uint32_t>(n)});
    }
    return model;
}

Model box(glm::dvec3 low, glm::dvec3 high) {
    Model model;
    for (unsigned i = 0; i < 8; ++i) {
        model.points.emplace_back((i & 1) != 0 ? high.x : low.x, (i & 2) != 0 ? high.y : low.y,
                                  (i & 4) != 0 ? high.z : low.z);
    }
    model.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                       {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    return model;
}

Model crooked() {
    Model ball = sphere(3.1, 12);
    ball.normals.clear();
    ball = moved(ball, glm::dmat3(1.0), {1.37, 2.11, -0.53});
    return joined(box({-5.13, -4.29, -2.17}, {2.41, 1.73, 1.57}), ball);
}

Model joined(Model a, const Model& b) {
    const auto first = static_cast<std::uint32_t>(a.points.size());
    a.points.insert(a.points.end(), b.points.begin(), b.points.end());
    // All points have normals, or none has.
    const bool both = a.normals.size() == first && b.normals.size() == b.points.size();
    a.normals.insert(a.normals.end(), b.normals.begin(), b.normals.end());
    if (!both) a.normals.clear();
    for (const auto& t : b.triangles) {
        a.triangles.push_back({t[0] + first, t[1] + first, t[2] + first});
    }
    return a;
}

Model moved(Model model, const glm::dmat3& turn, glm::dvec3 shift) {
    for (auto& p : model.points) p = turn * p + shift;
    for (auto& n : model.normals) n = turn * n;
    if (glm::determinant(turn) < 0.0) {
        for (auto& t : model.triangles) std::swap(t[1], t[2]);
    }
    return model;
}

double sphere_sag(const Model& sphere, double r) {
    double sag = 0.0;
    for (const auto& t : sphere.triangles) {
        const glm::dvec3 a = sphere.points[t[0]], b = sphere.points[t[1]], c = sphere.points[t[2]];
        const double ab = glm::length(a - b), bc = glm::length(b - c), ca = glm::length(c - a);
        const double twice_area = glm::length(glm::cross(b - a, c - a));
        const double circle = ab * bc * ca / (2.0 * twice_area);
        sag = std::max(sag, r - std::sqrt(r * r - circle * circle));
    }
    return sag;
}

void write_ply(const std::filesystem::path& file, const Model& model) {
    static_assert(std::endian::native == std::endian::little);
    std::string bytes = ply_header(model);
    for (std::size_t i = 0; i < model.points.size(); ++i) {
        bytes += raw_triple(model.points[i]);
        if (!model.normals.empty()) bytes += raw_triple(model.normals[i]);
    }
    for (const auto& t : model.triangles) {
        std::string face(13, '\3');
        std::memcpy(face.data() + 1, t.data(), 12);
        bytes += face;
    }
    write_file(file, bytes);
}

void write_obj(const std::filesystem::path& file, const Model& a, const Model& b) {
    write_file(file, obj_group("shell", a, 1) + obj_group("stand", b, 1 + a.points.size()));
}

void write_gltf(const std::filesystem::path& file, const Model& model, const GltfNodes& nodes) {
    std::string buffer, views, accessors, list, roots, meshes;
    const auto comma = [](const std::string& before) {
        return std::string(before.empty() ? "" : ",");
    };
    for (const Section& s : sections_of(model)) {
        accessors += comma(views) + R"({"bufferView":)" +
                     std::to_string(std::count(views.begin(), views.end(), '{')) +
                     R"(,"componentType":)" + std::to_string(s.component) + R"(,"count":)" +
                     std::to_string(s.count) + R"(,"type":")" + s.type + "\"" + s.more + "}";
        views += comma(views) + R"({"buffer":0,"byteOffset":)" + std::to_string(buffer.size()) +
                 R"(,"byteLength":)" + std::to_string(s.bytes.size()) + "}";
        buffer += s.bytes;
    }
    const std::string mesh =
        R"({"primitives":[{"attributes":{"POSITION":0,"NORMAL":1,"TEXCOORD_0":2},"indices":3)" +
        std::string(nodes.normal_map.empty() ? "" : R"(,"material":0)") + "}]}";
    for (std::size_t i = 0; i < nodes.places.size(); ++i) {
        list += comma(list) + R"({"name":"piece)" + std::to_string(i) + R"(","mesh":)" +
                (nodes.once ? "0" : std::to_string(i)) + "," + nodes.places[i] + "}";
        roots += comma(roots) + std::to_string(i);
        if (i == 0 || !nodes.once) meshes += comma(meshes) + mesh;
    }
    const std::string materials =
        nodes.normal_map.empty()
            ? ""
            : R"(,"images":[{"uri":")" + nodes.normal_map + R"("}],"textures":[{"source":0}],
"materials":[{"name":"ribbed","normalTexture":{"index":0}}])";
    write_file(file, R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[)" + roots +
                         "]}],\n\"nodes\":[" + list + "],\n\"meshes\":[" + meshes +
                         "],\n\"buffers\":[{\"byteLength\":" + std::to_string(buffer.size()) +
                         ",\"uri\":\"model.bin\"}],\n\"bufferViews\":[" + views +
                         "],\n\"accessors\":[" + accessors + "]" + materials + "}");
    write_file(file.parent_path() / "model.bin", buffer);
}

void write_crooked_scene(const Place& place) {
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    scene.passes = "";
    write_file(place / "scene.toml", scene.text());
}

}  // namespace cli_test
