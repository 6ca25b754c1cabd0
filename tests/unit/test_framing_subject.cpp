// The points that framing keeps of a model: whatever is left out changes no framing by a bit.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "framing/outer_points.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

// Enough that points are sorted out at all.
constexpr int many = 6000;

std::vector<glm::dvec3> random_points(Random& random, int count) {
    std::vector<glm::dvec3> points;
    for (int i = 0; i < count; ++i) {
        points.emplace_back(random.in_square(1.0), random.between(-1.0, 1.0));
        // As a file has them.
        for (int k = 0; k < 3; ++k) points.back()[k] = static_cast<float>(points.back()[k]);
    }
    return points;
}

std::vector<glm::dvec3> moved_each(std::vector<glm::dvec3> points, auto map) {
    for (auto& point : points) point = map(point);
    return points;
}

struct Cloud {
    std::string what;
    std::vector<glm::dvec3> points;
    bool shrinks;  // whether any can be left out
};

std::vector<Cloud> clouds() {
    Random random(1);
    const auto cube = random_points(random, many);
    const auto ball = moved_each(
        cube, [](glm::dvec3 p) { return glm::dot(p, p) > 1.0 ? 0.5 * glm::normalize(p) : p; });
    std::vector<glm::dvec3> grid, line;
    for (int i = 0; i < 20 * 20 * 20; ++i) grid.emplace_back(i % 20, i / 20 % 20, i / 400);
    for (int i = 0; i < many; ++i) line.emplace_back(i, 2.0 * i, -3.0 * i);
    auto lone = moved_each(cube, [](glm::dvec3 p) { return 1e-3 * p; });
    lone.emplace_back(100.0, 0.0, 0.0);
    return {
        {"cube", cube, true},
        {"ball", ball, true},
        {"one point far from the others", lone, true},
        {"far from the origin",
         moved_each(cube, [](glm::dvec3 p) { return p + glm::dvec3(4096.0); }), true},
        {"thin plate", moved_each(cube, [](glm::dvec3 p) { return p * glm::dvec3(1, 1, 1e-3); }),
         true},
        {"needle", moved_each(cube, [](glm::dvec3 p) { return p * glm::dvec3(1, 1e-4, 1e-4); }),
         true},
        {"oblique film",
         moved_each(cube, [](glm::dvec3 p) { return glm::dvec3(p.x, p.y, p.x + 1e-9 * p.z); }),
         false},
        {"grid", grid, true},
        {"flat", moved_each(cube, [](glm::dvec3 p) { return glm::dvec3(p.x, p.y, 0.0); }), false},
        {"oblique and flat",
         moved_each(cube, [](glm::dvec3 p) { return glm::dvec3(p.x, p.y, p.x); }), false},
        {"line", line, false},
        {"one point", moved_each(cube, [](glm::dvec3) { return glm::dvec3(0.25); }), false},
        {"sphere", moved_each(cube, [](glm::dvec3 p) { return glm::normalize(p); }), false},
    };
}

Subject whole(const std::vector<glm::dvec3>& points) {
    glm::dvec3 low = points[0], high = points[0];
    for (const auto& p : points) {
        low = glm::min(low, p);
        high = glm::max(high, p);
    }
    return {0.5 * (low + high), points};
}

// In text of 17 digits, which tells all doubles apart, or what was thrown.
std::string told(const Scene& scene, const Mesh& mesh, const Subject& subject) {
    try {
        const Framing f = frame(scene, mesh, subject);
        std::string text;
        const auto& s = f.subject;
        for (const double value :
             {f.camera.mm_per_unit, f.camera.eye_mm, f.camera.picture_mm.x, f.camera.picture_mm.y,
              f.camera.centre_model.x, f.camera.centre_model.y, f.camera.centre_model.z, s.low_mm.x,
              s.low_mm.y, s.high_mm.x, s.high_mm.y, s.near_mm, s.far_mm, s.outside_field_mm,
              s.outside_image_mm, s.edge_on ? 1.0 : 0.0}) {
            char number[40];
            std::snprintf(number, sizeof number, "%.17g ", value);
            text += number;
        }
        for (const auto& warning : f.warnings) text += warning + "\n";
        return text;
    } catch (const Error& error) {
        return error.what();
    }
}

Scene random_scene(Random& random) {
    Scene scene = scene_on(random.whole(0, 1) == 0 ? oval(30.0, 50.0) : rectangle(40.0, 25.0, 3.0));
    scene.pose.yaw_deg = random.between(-180.0, 180.0);
    scene.pose.pitch_deg = random.between(-90.0, 90.0);
    scene.pose.roll_deg = random.between(-180.0, 180.0);
    if (random.whole(0, 3) == 0) scene.pose.yaw_deg = scene.pose.pitch_deg = 0.0;
    if (random.whole(0, 1) == 0) return scene;
    scene.pose.projection = Projection::perspective;
    scene.pose.view_deg = random.between(5.0, 90.0);
    return scene;
}

}  // namespace

TEST_CASE("a subject's inner points are left out and no framing changes by a bit") {
    const Mesh mesh = mesh_of(box({1.0, 1.0, 1.0}));  // names the axes
    for (const auto& cloud : clouds()) {
        CAPTURE(cloud.what);
        const Subject all = whole(cloud.points);
        const Subject outer{all.centre, outer_points(cloud.points)};
        if (cloud.shrinks) CHECK(outer.points.size() < all.points.size());
        if (!cloud.shrinks) CHECK(outer.points == all.points);
        Random random(7);
        for (int i = 0; i < 24; ++i) {
            const Scene scene = random_scene(random);
            CAPTURE(scene.pose.yaw_deg);
            CAPTURE(scene.pose.pitch_deg);
            CHECK(told(scene, mesh, outer) == told(scene, mesh, all));
        }
    }
}

TEST_CASE("a subject has the parts in use alone, and frames as its mesh does") {
    const Mesh mesh = mesh_of_parts({"lid", "base"});
    const Subject subject = subject_of(mesh, {false, true});
    CHECK(subject.centre == glm::dvec3(2.5, 0.5, 0.0));
    CHECK(subject.points == std::vector<glm::dvec3>{{2, 0, 0}, {3, 0, 0}, {2, 1, 0}});

    const Mesh ball = mesh_of(sphere(2.0, 20));
    Random random(3);
    for (int i = 0; i < 4; ++i) {
        const Scene scene = random_scene(random);
        CHECK(told(scene, ball, subject_of(ball, {true})) ==
              told(scene, ball, whole(subject_of(ball, {true}).points)));
    }
}
