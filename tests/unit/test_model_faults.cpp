// Faults of geometry, each put in on purpose: as many as were put in must be found, and none where
// none was.

#include <doctest/doctest.h>

#include <cmath>
#include <cstring>
#include <numbers>

#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

const Model ball = sphere(10.0, 3);  // 1280 triangles, 642 points

Model moved(Model model, glm::vec3 by) {
    for (auto& p : model.points) p += by;
    return model;
}

// Turned to where no coordinate is a round number.
Model askew(Model model) {
    const double a = 0.7, b = 0.4;
    for (auto& p : model.points) {
        const glm::dvec3 q(std::cos(a) * p.x - std::sin(a) * p.y,
                           std::sin(a) * p.x + std::cos(a) * p.y, p.z);
        p = glm::dvec3(q.x, std::cos(b) * q.y - std::sin(b) * q.z,
                       std::sin(b) * q.y + std::cos(b) * q.z);
    }
    return model;
}

bool same_surface(const Mesh& a, const Mesh& b) {
    return a.vertices().size_bytes() == b.vertices().size_bytes() &&
           a.indices().size_bytes() == b.indices().size_bytes() &&
           std::memcmp(a.vertices().data(), b.vertices().data(), a.vertices().size_bytes()) == 0 &&
           std::memcmp(a.indices().data(), b.indices().data(), a.indices().size_bytes()) == 0;
}

// n squares side by side along x, of which those above the line y = 0 are half as wide: each of
// theirs has one corner within an edge of the lower ones.
Model half_step(std::uint32_t n, bool shared) {
    Model m;
    const auto quad = [&](float left, float right, float low, float high) {
        const auto first = static_cast<std::uint32_t>(m.points.size());
        for (const glm::vec3 p : {glm::vec3(left, low, 0), glm::vec3(right, low, 0),
                                  glm::vec3(right, high, 0), glm::vec3(left, high, 0)})
            m.points.push_back(p);
        m.triangles.push_back({first, first + 1, first + 2});
        m.triangles.push_back({first, first + 2, first + 3});
    };
    for (std::uint32_t i = 0; i < n; ++i) {
        const auto x = static_cast<float>(i);
        if (shared) {
            quad(x, x + 0.5f, -1.0f, 0.0f);
            quad(x + 0.5f, x + 1.0f, -1.0f, 0.0f);
        } else {
            quad(x, x + 1.0f, -1.0f, 0.0f);
        }
        quad(x, x + 0.5f, 0.0f, 1.0f);
        quad(x + 0.5f, x + 1.0f, 0.0f, 1.0f);
    }
    return m;
}

// n corners on the circle of radius r at z = 0 around their middle, the tip at z = h.
Model cone(double r, double h, std::uint32_t n) {
    Model m;
    m.points = {{0, 0, 0}, {0, 0, h}};
    for (std::uint32_t i = 0; i < n; ++i) {
        const double turn = 2.0 * std::numbers::pi * i / n;
        m.points.emplace_back(r * std::cos(turn), r * std::sin(turn), 0.0);
        const std::uint32_t a = i + 2, b = (i + 1) % n + 2;
        m.triangles.push_back({1, a, b});
        m.triangles.push_back({0, b, a});
    }
    return m;
}

// Around the z axis: n rings of n points.
Model torus(double ring, double tube, std::uint32_t n) {
    Model m;
    for (std::uint32_t i = 0; i < n; ++i)
        for (std::uint32_t k = 0; k < n; ++k) {
            const double u = 2.0 * std::numbers::pi * i / n, v = 2.0 * std::numbers::pi * k / n;
            const double r = ring + tube * std::cos(v);
            m.points.emplace_back(r * std::cos(u), r * std::sin(u), tube * std::sin(v));
            const std::uint32_t a = i * n + k, b = (i + 1) % n * n + k;
            const std::uint32_t c = (i + 1) % n * n + (k + 1) % n, d = i * n + (k + 1) % n;
            m.triangles.push_back({a, b, c});
            m.triangles.push_back({a, c, d});
        }
    return m;
}

Model inside_out(Model model) {
    for (std::size_t t = 0; t < model.triangles.size(); ++t) turn(model, t);
    return model;
}

}  // namespace

TEST_CASE("a sound model has none of these faults") {
    for (const Model& model : {ball, askew(torus(10.0, 3.0, 40)), box({0, 0, 0}, {1, 2, 3})}) {
        const ModelFacts facts = load(model).facts();
        CHECK(facts.closed);
        CHECK(facts.dropped_doubled == 0);
        CHECK(facts.borders == 0);
        CHECK(facts.t_junctions == 0);
        CHECK(facts.spikes == 0);
        CHECK(facts.inner_shells == 0);
        CHECK(facts.warnings.empty());
    }
}

TEST_CASE("a doubled shell becomes the single one, however the second is wound") {
    for (const Model& second : {ball, inside_out(ball)}) {
        const Mesh mesh = load(together(ball, second));
        CHECK(mesh.facts().dropped_doubled == 1280);
        CHECK(mesh.facts().closed);
        CHECK(mesh.facts().shells == 1);
        CHECK(same_surface(mesh, load(ball)));
        REQUIRE(mesh.facts().warnings.size() == 1);
        CHECK(mesh.facts().warnings[0] == "1280 triangles that lay on other ones were dropped");
    }
}

TEST_CASE("some triangles doubled, some three times: the others stay") {
    Model m = ball;
    for (std::uint32_t t = 0; t < 1280; t += 10) m.triangles.push_back(ball.triangles[t]);
    for (std::uint32_t t = 0; t < 1280; t += 20) {
        const auto [a, b, c] = ball.triangles[t];
        m.triangles.push_back({c, b, a});
    }
    const Mesh mesh = load(m);
    CHECK(mesh.facts().dropped_doubled == 128 + 64);
    CHECK(same_surface(mesh, load(ball)));
}

TEST_CASE("of two parts in one place the first stays") {
    const TemporaryFolder folder;
    const std::string shell = as_obj(ball);
    const std::size_t faces = shell.find("f ");
    write(folder / "a.obj", shell.substr(0, faces) + "o shell\n" + shell.substr(faces) +
                                "o copy\n" + shell.substr(faces) + "o rest\nf 1 2 3\n");
    const Mesh mesh = load_model(folder / "a.obj", no_cache());
    CHECK(mesh.facts().dropped_doubled >= 1280);
    CHECK(mesh.parts().front().name == "shell");
    CHECK(mesh.parts().front().triangle_count == 1280);
    for (const Part& part : mesh.parts()) CHECK(part.name != "copy");
}

TEST_CASE("every hole is one border, those that touch are one") {
    Model m = ball;
    // Far apart in the file's order of twenty faces cut anew; no two share a point.
    std::size_t removed = 0;
    for (const std::size_t t : {std::size_t{1200}, std::size_t{800}, std::size_t{400}}) {
        m.triangles.erase(m.triangles.begin() + static_cast<std::ptrdiff_t>(t));
        ++removed;
    }
    const ModelFacts facts = load(m).facts();
    CHECK(facts.boundary_edges == 3 * removed);
    CHECK(facts.borders == removed);
    CHECK_FALSE(facts.closed);
    // A fan's triangles all removed: one hole.
    Model fan = ball;
    std::erase_if(fan.triangles, [](const auto& t) { return t[0] == 0 || t[1] == 0 || t[2] == 0; });
    CHECK(load(fan).facts().borders == 1);
}

TEST_CASE("a corner within another's edge is a T-junction, a shared one is none") {
    for (const std::uint32_t n : {1U, 2U, 40U}) {
        CAPTURE(n);
        CHECK(load(half_step(n, false)).facts().t_junctions == n);
        CHECK(load(askew(half_step(n, false))).facts().t_junctions == n);
        CHECK(load(askew(half_step(n, true))).facts().t_junctions == 0);
    }
    // A thousandth beside the edge is a gap, not a junction.
    Model apart = half_step(1, false);
    for (std::size_t i = 4; i < apart.points.size(); ++i) apart.points[i].y += 1e-3f;
    CHECK(load(apart).facts().t_junctions == 0);
}

TEST_CASE("a point pulled far out is a spike, a pointed cone is none") {
    Model m = ball;
    for (const std::size_t point : {std::size_t{7}, std::size_t{300}}) m.points[point] *= 6.0f;
    CHECK(load(m).facts().spikes == 2);
    CHECK(load(cone(1.0, 12.0, 24)).facts().spikes == 0);  // six times as high as it is wide
    CHECK(load(cone(1.0, 20.0, 24)).facts().spikes == 1);  // ten times: limit 8
}

TEST_CASE("a shell within a solid is counted; a cavity, and what stands in a hole, are not") {
    const Model inner = sphere(1.0, 2);
    CHECK(load(together(ball, inner)).facts().inner_shells == 1);
    CHECK(load(together(ball, inside_out(inner))).facts().inner_shells == 0);
    CHECK(load(inside_out(together(ball, inner))).facts().inner_shells == 1);
    Model several = ball;
    for (int i = -2; i <= 2; ++i)
        several = together(several, moved(inner, {2.5f * static_cast<float>(i), 0.3f, 0.1f}));
    CHECK(load(several).facts().inner_shells == 5);
    // Within the ring's bounds, in its hole: outside of its solid. And one in the tube.
    const Model ring = torus(10.0, 3.0, 40);
    CHECK(load(together(ring, inner)).facts().inner_shells == 0);
    CHECK(load(together(ring, moved(inner, {10.0f, 0.2f, 0.1f}))).facts().inner_shells == 1);
}

TEST_CASE("a hundred thousand loose triangles are as many shells, each with its border") {
    Model m;
    const std::uint32_t n = 100000;
    for (std::uint32_t i = 0; i < n; ++i) {
        const float x = static_cast<float>(i % 317) * 2.0f, y = static_cast<float>(i / 317) * 2.0f;
        for (const glm::vec2 p : {glm::vec2(0, 0), glm::vec2(1, 0), glm::vec2(0, 1)})
            m.points.emplace_back(x + p.x, y + p.y, 0.0f);
        m.triangles.push_back({3 * i, 3 * i + 1, 3 * i + 2});
    }
    const ModelFacts facts = load(m).facts();
    CHECK(facts.shells == n);
    CHECK(facts.borders == n);
    CHECK(facts.boundary_edges == 3 * n);
    CHECK(facts.t_junctions == 0);
    CHECK(facts.spikes == 0);
}
