#include "test_framing_support.hpp"

#include <doctest/doctest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iomanip>
#include <numbers>
#include <sstream>
#include <utility>

namespace framing_test {
namespace fs = std::filesystem;
using namespace rakelight;

Mesh loaded(const std::string& name, const std::string& text) {
    std::string folder = (fs::temp_directory_path() / "framing-test-XXXXXX").string();
    REQUIRE(::mkdtemp(folder.data()) != nullptr);
    const fs::path file = fs::path(folder) / name;
    std::ofstream(file, std::ios::binary) << text;
    LoadOptions options;
    options.cache.use = false;
    Mesh mesh = load_model(file, options);
    fs::remove_all(folder);
    return mesh;
}

namespace {

BlankSettings blank_of(BlankShape shape, double width_mm, double height_mm) {
    BlankSettings blank;
    blank.shape = shape;
    blank.width_mm = width_mm;
    blank.height_mm = height_mm;
    return blank;
}

}  // namespace

Solid box(glm::dvec3 half) {
    Solid solid;
    for (unsigned i = 0; i < 8; ++i) {
        solid.points.emplace_back((i & 1) != 0 ? half.x : -half.x, (i & 2) != 0 ? half.y : -half.y,
                                  (i & 4) != 0 ? half.z : -half.z);
    }
    solid.triangles = {{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
                       {2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5}};
    return solid;
}

Solid plate(const std::vector<glm::dvec2>& corners) {
    std::vector<glm::dvec3> points;
    points.reserve(corners.size());
    for (const auto& corner : corners) points.emplace_back(corner, 0.0);
    return fan(points);
}

Solid sphere(double radius, int rings) {
    Solid solid;
    const int sides = 4 * rings;
    for (int ring = 0; ring <= rings; ++ring) {
        const double down = std::numbers::pi * ring / rings;
        for (int side = 0; side < sides; ++side) {
            const double around = 2.0 * std::numbers::pi * side / sides;
            solid.points.emplace_back(radius * std::sin(down) * std::cos(around),
                                      radius * std::sin(down) * std::sin(around),
                                      radius * std::cos(down));
        }
    }
    for (int ring = 0; ring < rings; ++ring) {
        for (int side = 0; side < sides; ++side) {
            const auto at = [&](int r, int s) {
                return static_cast<std::uint32_t>(r * sides + s % sides);
            };
            solid.triangles.push_back({at(ring, side), at(ring + 1, side), at(ring + 1, side + 1)});
            solid.triangles.push_back({at(ring, side), at(ring + 1, side + 1), at(ring, side + 1)});
        }
    }
    return solid;
}

Solid fan(std::vector<glm::dvec3> points) {
    Solid solid;
    solid.points = std::move(points);
    for (std::uint32_t i = 2; i < solid.points.size(); ++i) {
        solid.triangles.push_back({0, i - 1, i});
    }
    return solid;
}

Solid mapped(Solid solid, const std::function<glm::dvec3(glm::dvec3)>& map) {
    for (auto& point : solid.points) point = map(point);
    return solid;
}

Solid moved(Solid solid, glm::dvec3 by) {
    return mapped(std::move(solid), [&](glm::dvec3 p) { return p + by; });
}

Mesh mesh_of(const Solid& solid) {
    std::ostringstream ply;
    ply << "ply\nformat ascii 1.0\nelement vertex " << solid.points.size()
        << "\nproperty float x\nproperty float y\nproperty float z\nelement face "
        << solid.triangles.size() << "\nproperty list uchar int vertex_indices\nend_header\n"
        << std::setprecision(9);
    for (const auto& p : solid.points) ply << p.x << ' ' << p.y << ' ' << p.z << '\n';
    for (const auto& t : solid.triangles) ply << "3 " << t[0] << ' ' << t[1] << ' ' << t[2] << '\n';
    return loaded("solid.ply", ply.str());
}

Mesh mesh_of_parts(const std::vector<std::string>& names) {
    std::ostringstream obj;
    for (std::size_t i = 0; i < names.size(); ++i) {
        const auto x = static_cast<double>(2 * i);
        obj << "o " << names[i] << "\nv " << x << " 0 0\nv " << x + 1.0 << " 0 0\nv " << x
            << " 1 0\nf " << 3 * i + 1 << ' ' << 3 * i + 2 << ' ' << 3 * i + 3 << '\n';
    }
    return loaded("parts.obj", obj.str());
}

BlankSettings round_blank(double width_mm) {
    return blank_of(BlankShape::round, width_mm, width_mm);
}

BlankSettings oval(double width_mm, double height_mm) {
    return blank_of(BlankShape::oval, width_mm, height_mm);
}

BlankSettings rectangle(double width_mm, double height_mm, double corner_mm) {
    BlankSettings blank = blank_of(BlankShape::rectangle, width_mm, height_mm);
    blank.corner_radius_mm = corner_mm;
    return blank;
}

BlankSettings tag(double width_mm, double height_mm) {
    return blank_of(BlankShape::tag, width_mm, height_mm);
}

Scene scene_on(const BlankSettings& blank) {
    Scene scene;
    scene.blank = blank;
    scene.model.up = Axis::plus_y;
    scene.model.file_as_written = "solid.ply";
    scene.framing.margin_mm = 0.0;
    return scene;
}

Framing framed(const Scene& scene, const Mesh& mesh) {
    return frame(scene, mesh, used_parts(scene.model, mesh));
}

std::vector<glm::dvec2> places(const Camera& camera, const Mesh& mesh) {
    std::vector<glm::dvec2> all;
    for (const auto& vertex : mesh.vertices()) {
        const glm::dvec3 p(vertex.position[0], vertex.position[1], vertex.position[2]);
        const glm::dvec3 view =
            camera.mm_per_unit * (camera.view_from_model * (p - camera.centre_model));
        const bool perspective = camera.projection == Projection::perspective;
        const double grow = perspective ? camera.eye_mm / (camera.eye_mm - view.z) : 1.0;
        all.emplace_back(grow * view.x + camera.picture_mm.x, grow * view.y + camera.picture_mm.y);
    }
    return all;
}

Error error_of(const std::function<void()>& call) {
    try {
        call();
    } catch (const Error& error) {
        return error;
    }
    FAIL("expected an error, found none");
    return {ExitCode::own_fault, ""};
}

bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

// Marsaglia 2003, "Xorshift RNGs", the 64-bit triple (13, 7, 17).
double Random::between(double low, double high) {
    state_ ^= state_ << 13;
    state_ ^= state_ >> 7;
    state_ ^= state_ << 17;
    return low + (high - low) * static_cast<double>(state_ >> 11) * 0x1p-53;
}

int Random::whole(int low, int high) {
    return low + static_cast<int>(between(0.0, high - low + 1.0));
}

glm::dvec2 Random::direction() {
    const double angle = between(0.0, 2.0 * std::numbers::pi);
    return {std::cos(angle), std::sin(angle)};
}

}  // namespace framing_test
