// Cages against the closed forms of their limit surfaces.
// Catmull-Clark: Halstead, Kass, DeRose 1993, "Efficient, Fair Interpolation using Catmull-Clark
// Surfaces": a corner v of n quads, e across its edges and f across its faces, goes to
// (n^2 v + 4 sum e + sum f) / (n (n + 5)). Where four quads meet everywhere the surface is the
// uniform bicubic B-spline, on borders the cubic one: (a + 4 b + c) / 6.
// Loop: Loop 1987; the limit as in Hoppe et al. 1994, "Piecewise Smooth Surface Reconstruction".

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

// Positions are kept in single precision; the rules' weights are single too, some ten of them a
// level.
constexpr double rounding = 4e-6;

struct Polygons {
    std::vector<glm::dvec3> points;
    std::vector<std::vector<int>> faces;
    int second_material_from = std::numeric_limits<int>::max();  ///< face
};

Polygons cube() {
    Polygons c;
    for (int i = 0; i < 8; ++i)
        c.points.emplace_back(i & 1 ? 1 : -1, i & 2 ? 1 : -1, i & 4 ? 1 : -1);
    c.faces = {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}};
    return c;
}

Polygons octahedron() {
    return {
        {{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}},
        {{0, 2, 4}, {2, 1, 4}, {1, 3, 4}, {3, 0, 4}, {2, 0, 5}, {1, 2, 5}, {3, 1, 5}, {0, 3, 5}}};
}

// n by n squares in the plane z = 0, heights from a fixed draw.
Polygons hills(int n, double height) {
    std::mt19937 draw(5);
    Polygons h;
    for (int y = 0; y <= n; ++y)
        for (int x = 0; x <= n; ++x)
            h.points.emplace_back(x, y, height * static_cast<double>(draw() % 1000) / 1000.0);
    for (int y = 0; y < n; ++y)
        for (int x = 0; x < n; ++x) {
            const int a = y * (n + 1) + x;
            h.faces.push_back({a, a + 1, a + n + 2, a + n + 1});
        }
    return h;
}

std::string as_obj(const Polygons& polygons) {
    std::string text = "o form\nusemtl first\n";
    char line[96];
    for (const auto& p : polygons.points) {
        std::snprintf(line, sizeof line, "v %.9g %.9g %.9g\n", p.x, p.y, p.z);
        text += line;
    }
    int number = 0;
    for (const auto& face : polygons.faces) {
        if (number++ == polygons.second_material_from) text += "usemtl second\n";
        text += "f";
        for (const int corner : face) text += " " + std::to_string(corner + 1);
        text += "\n";
    }
    return text;
}

LoadOptions as_cage(CageRule rule, int times, double crease_deg = 180.0) {
    LoadOptions options = no_cache();
    options.reading.cage = {rule, times, crease_deg};
    return options;
}

Mesh smooth(const Polygons& polygons, const LoadOptions& options) {
    const TemporaryFolder folder;
    write(folder / "cage.obj", as_obj(polygons));
    return load_model(folder / "cage.obj", options);
}

double distance_to(const Mesh& mesh, glm::dvec3 place) {
    double nearest = std::numeric_limits<double>::infinity();
    for (const Vertex& v : mesh.vertices())
        nearest = std::min(nearest, glm::distance(position(v), place));
    return nearest;
}

}  // namespace

TEST_CASE("Catmull-Clark takes a cube's corners to half of them, its faces' middles to 0.8395") {
    for (const int times : {1, 3, 5}) {
        CAPTURE(times);
        const Mesh mesh = smooth(cube(), as_cage(CageRule::catmull_clark, times));
        CHECK(mesh.indices().size() / 3 == 12ULL << (2 * times));
        CHECK(mesh.facts().closed);
        for (const glm::dvec3& corner : cube().points)
            CHECK(distance_to(mesh, 0.5 * corner) < rounding);  // n = 3: (9 + 4 - 1) / 24
        // After one step: the middle 1, edges 3/4, corners 5/9 high; n = 4.
        const double middle = (16.0 + 4.0 * 3.0 + 4.0 * 5.0 / 9.0) / 36.0;
        for (int k = 0; k < 3; ++k) {
            CHECK(std::abs(mesh.bounds().high[k] - middle) < rounding);
            CHECK(std::abs(mesh.bounds().low[k] + middle) < rounding);
        }
    }
}

TEST_CASE("where four quads meet everywhere it is the bicubic B-spline") {
    const Polygons h = hills(6, 2.0);
    const Mesh mesh = smooth(h, as_cage(CageRule::catmull_clark, 2));
    const auto at = [&](int x, int y) { return h.points[static_cast<std::size_t>(7 * y + x)]; };
    for (int y = 1; y < 6; ++y)
        for (int x = 1; x < 6; ++x) {
            glm::dvec3 limit(0.0);
            for (int j = -1; j <= 1; ++j)
                for (int i = -1; i <= 1; ++i)
                    limit += (i ? 1.0 : 4.0) * (j ? 1.0 : 4.0) / 36.0 * at(x + i, y + j);
            CHECK(distance_to(mesh, limit) < rounding);
        }
    for (int x = 1; x < 6; ++x) {  // the border, a cubic curve, and its corners
        const glm::dvec3 limit = (at(x - 1, 0) + 4.0 * at(x, 0) + at(x + 1, 0)) / 6.0;
        CHECK(distance_to(mesh, limit) < rounding);
    }
    CHECK(distance_to(mesh, at(0, 0)) < rounding);
    CHECK(distance_to(mesh, at(6, 6)) < rounding);
}

TEST_CASE("Loop takes an octahedron's corners to 24/55 of them") {
    // beta = (5/8 - (3/8 + cos(2 pi / n) / 4)^2) / n, limit weight 1 / (3 / (8 beta) + n); n = 4.
    const double beta = (5.0 / 8.0 - 9.0 / 64.0) / 4.0;
    const double weight = 1.0 / (3.0 / (8.0 * beta) + 4.0);
    const double kept = 1.0 - 4.0 * weight;
    CHECK(kept == doctest::Approx(24.0 / 55.0));
    for (const int times : {1, 4}) {
        const Mesh mesh = smooth(octahedron(), as_cage(CageRule::loop, times));
        CHECK(mesh.indices().size() / 3 == 8ULL << (2 * times));
        for (const auto& corner : octahedron().points)
            CHECK(distance_to(mesh, kept * corner) < rounding);
    }
}

TEST_CASE("an open tube's border is the cubic curve through its ring") {
    Polygons tube;
    constexpr int n = 8;
    for (int y = 0; y < 3; ++y)
        for (int i = 0; i < n; ++i) {
            const double turn = 2.0 * std::numbers::pi * i / n;
            tube.points.emplace_back(std::cos(turn), y, std::sin(turn));
        }
    for (int y = 0; y < 2; ++y)
        for (int i = 0; i < n; ++i)
            tube.faces.push_back(
                {y * n + i, y * n + n + i, y * n + n + (i + 1) % n, y * n + (i + 1) % n});
    const Mesh mesh = smooth(tube, as_cage(CageRule::catmull_clark, 3));
    const double radius = (4.0 + 2.0 * std::cos(2.0 * std::numbers::pi / n)) / 6.0;
    for (int i = 0; i < n; ++i) {
        const glm::dvec3 p = tube.points[static_cast<std::size_t>(i)];
        CHECK(distance_to(mesh, {radius * p.x, 0.0, radius * p.z}) < rounding);
    }
    CHECK(mesh.facts().borders == 2);
}

TEST_CASE("edges that bend by more than the crease angle stay sharp") {
    const Mesh sharp = smooth(cube(), as_cage(CageRule::catmull_clark, 3, 60.0));
    CHECK(volume(sharp) == doctest::Approx(8.0).epsilon(rounding));
    for (const glm::dvec3& corner : cube().points) CHECK(distance_to(sharp, corner) < rounding);
    const Mesh round = smooth(cube(), as_cage(CageRule::catmull_clark, 3, 100.0));
    CHECK(volume(round) < 4.0);
}

TEST_CASE("what is flat stays flat") {
    const Mesh mesh = smooth(hills(4, 0.0), as_cage(CageRule::catmull_clark, 3));
    CHECK(mesh.bounds().high.z == 0.0);
    CHECK(mesh.bounds().low.z == 0.0);
    CHECK(mesh.bounds().high.x == doctest::Approx(4.0).epsilon(1e-6));
}

TEST_CASE("a part of two materials is one surface") {
    Polygons two = cube();
    two.second_material_from = 3;
    const Mesh mesh = smooth(two, as_cage(CageRule::catmull_clark, 3));
    CHECK(mesh.parts().size() == 2);
    CHECK(mesh.facts().closed);
    CHECK(
        volume(mesh) ==
        doctest::Approx(volume(smooth(cube(), as_cage(CageRule::catmull_clark, 3)))).epsilon(1e-6));
}

TEST_CASE("a mirrored cage becomes the mirrored surface") {
    Polygons mirrored = hills(5, 2.0);
    for (auto& p : mirrored.points) p.x = -p.x;
    for (auto& face : mirrored.faces) std::reverse(face.begin(), face.end());
    const Mesh one = smooth(hills(5, 2.0), as_cage(CageRule::catmull_clark, 2));
    const Mesh other = smooth(mirrored, as_cage(CageRule::catmull_clark, 2));
    CHECK(one.vertices().size() == other.vertices().size());
    for (std::size_t i = 0; i < one.vertices().size(); i += 17) {
        const glm::dvec3 p = position(one.vertices()[i]);
        CHECK(distance_to(other, {-p.x, p.y, p.z}) < rounding);
    }
}

TEST_CASE("polygons of five corners and more, and triangles, are taken as they are") {
    // A prism on a regular pentagon. A corner has n = 3 faces: after one step all are quads.
    Polygons prism;
    for (int z = 0; z < 2; ++z)
        for (int i = 0; i < 5; ++i) {
            const double turn = 2.0 * std::numbers::pi * i / 5;
            prism.points.emplace_back(std::cos(turn), std::sin(turn), z);
        }
    prism.faces = {{4, 3, 2, 1, 0}, {5, 6, 7, 8, 9}};
    for (int i = 0; i < 5; ++i) prism.faces.push_back({i, (i + 1) % 5, (i + 1) % 5 + 5, i + 5});
    const Mesh mesh = smooth(prism, as_cage(CageRule::catmull_clark, 2));
    CHECK(mesh.facts().closed);
    // 5 + 5 + 5 * 4 corners make as many quads, each cut in four once more.
    CHECK(mesh.indices().size() / 3 == 2 * 4 * 30);
    CHECK(mesh.facts().subdivision == "catmull-clark, 2 times: 7 polygons became 240 triangles");
}

TEST_CASE("left to itself it goes on until the longest edge is short enough, and not without end") {
    LoadOptions options = no_cache();
    options.reading.cage = {CageRule::catmull_clark, std::nullopt, 180.0, 1.0 / 16.0};
    CHECK(smooth(cube(), options).indices().size() / 3 == 12ULL << 8);  // 2 / 16 of 2: four times
    options.reading.cage.edge_share = 1e-9;
    CHECK(smooth(cube(), options).indices().size() / 3 == 12ULL << 14);  // seven times
}

#ifndef __SANITIZE_ADDRESS__  // under which the address space is not limited
TEST_CASE("a cage that would not fit the memory is refused with figures") {
    LoadOptions options = as_cage(CageRule::catmull_clark, 7);
    options.limits.memory_mib = 512;
    const TemporaryFolder folder;
    write(folder / "hills.obj", as_obj(hills(30, 1.0)));
    const std::string message = bad_model_message(folder / "hills.obj", options);
    // 900 quads, 2 * 4^7 each
    CHECK(message.find("subdivided 7 times it would have 29491200 triangles") != std::string::npos);
    CHECK(message.find("the import may take 512 MiB") != std::string::npos);
    CHECK(message.find("set subdivide_times = 4") != std::string::npos);
    options.reading.cage.times = 4;
    CHECK(load_model(folder / "hills.obj", options).indices().size() / 3 == 900 * 512);
}
#endif

TEST_CASE("three sheets on one edge, polygons on one another, hostile ones: an answer each time") {
    Polygons sheets{{{0, 0, 0},
                     {0, 0, 1},
                     {1, 0, 0},
                     {1, 0, 1},
                     {-1, 1, 0},
                     {-1, 1, 1},
                     {-1, -1, 0},
                     {-1, -1, 1}},
                    {{0, 2, 3, 1}, {0, 4, 5, 1}, {0, 6, 7, 1}}};
    CHECK(smooth(sheets, as_cage(CageRule::catmull_clark, 2)).indices().size() / 3 == 3 * 32);
    std::mt19937 draw(11);
    int made = 0;
    for (int run = 0; run < 60; ++run) {
        Polygons wild;
        for (int i = 0; i < 8; ++i)
            wild.points.emplace_back(int(draw() % 5), int(draw() % 5), int(draw() % 5));
        for (int i = 0; i < 12; ++i) {
            std::vector<int> face(3 + draw() % 6);
            for (int& corner : face) corner = static_cast<int>(draw() % 8);
            wild.faces.push_back(face);
        }
        const TemporaryFolder folder;
        write(folder / "wild.obj", as_obj(wild));
        const auto rule = run % 2 ? CageRule::loop : CageRule::catmull_clark;
        const std::string message = bad_model_message(folder / "wild.obj", as_cage(rule, 2, 30.0));
        CAPTURE(message);
        made += message == "no error";
        const bool told = message == "no error" || message.find("polygons") != std::string::npos ||
                          message.find("triangles") != std::string::npos;
        CHECK(told);
        CHECK(message.find("crashed") == std::string::npos);
    }
    CHECK(made > 0);
}
