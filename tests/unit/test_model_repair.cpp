#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>
#include <set>

#include "model/flat_mesh.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

// Counts are those of the construction: what was put in is what must be found. Edges of a box:
// 12 of its own and a diagonal on each of 6 faces make 18, by Euler V - E + F = 8 - 18 + 12 = 2.

namespace {

const Model unit_box = box({0, 0, 0}, {1, 2, 3});

}  // namespace

TEST_CASE("triangles without area are dropped and counted") {
    Model m = unit_box;
    m.triangles.push_back({0, 0, 1});  // an index used twice
    m.points.push_back(m.points[0]);   // a position used twice
    m.triangles.push_back({0, 8, 1});
    m.points.emplace_back(0.5f, 0.0f, 0.0f);  // three points on a line
    m.triangles.push_back({0, 9, 1});
    const Mesh mesh = load(m);
    CHECK(mesh.facts().triangles_in_file == 15);
    CHECK(mesh.facts().dropped_degenerate == 3);
    CHECK(mesh.facts().dropped_not_finite == 0);
    CHECK(mesh.indices().size() == 36);
    CHECK(mesh.facts().closed);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0] == "3 triangles without any area were dropped");
}

TEST_CASE("a thin triangle is kept") {
    Model m{{{0, 0, 0}, {1, 0, 0}, {0.5f, 1e-30f, 0}}, {{0, 1, 2}}, {}};
    CHECK(load(m).indices().size() == 3);
}

TEST_CASE("a triangle that is nearly a line, one side of it a million million times the others") {
    // Found by mutating OBJ files: one pair of its sides says that it has no area.
    const Mesh mesh =
        load({{{0, 0, 0}, {0, 1, 333333333333333333.0f}, {0, 0, 1}}, {{0, 1, 2}}, {}});
    REQUIRE(mesh.indices().size() == 3);
    for (const Vertex& v : mesh.vertices())
        CHECK(std::abs(decode_octahedral(v.normal).x) == doctest::Approx(1.0));
}

TEST_CASE("triangles with a corner that is not finite are dropped and counted") {
    Model m = unit_box;
    m.points.emplace_back(std::numeric_limits<float>::quiet_NaN(), 0.0f, 0.0f);
    m.points.emplace_back(0.0f, std::numeric_limits<float>::infinity(), 0.0f);
    m.points.emplace_back(0.0f, 0.0f, -std::numeric_limits<float>::infinity());
    for (std::uint32_t i = 8; i < 11; ++i) m.triangles.push_back({0, 1, i});
    const Mesh mesh = load(m);
    CHECK(mesh.facts().dropped_not_finite == 3);
    CHECK(mesh.facts().dropped_degenerate == 0);
    CHECK(mesh.indices().size() == 36);
    CHECK(mesh.bounds().high == glm::dvec3(1, 2, 3));
}

TEST_CASE("0 and -0 are one position") {
    Model m = tetrahedron();
    m.points.emplace_back(-0.0f, -0.0f, -0.0f);
    m.triangles[2] = {4, 3, 2};
    CHECK(load(m).facts().closed);
}

TEST_CASE("turned triangles are turned back: every choice of up to five of a box's twelve") {
    for (unsigned choice = 0; choice < 4096; ++choice) {
        const int turned = __builtin_popcount(choice);
        if (turned > 2 && choice % 61 != 0) continue;  // all of one and two, a sample of the rest
        Soup soup;
        soup.positions.assign(unit_box.points.begin(), unit_box.points.end());
        for (unsigned t = 0; t < 12; ++t) {
            const auto& [a, b, c] = unit_box.triangles[t];
            const bool turn_it = ((choice >> t) & 1) != 0;
            for (const std::uint32_t i : {a, turn_it ? c : b, turn_it ? b : c})
                soup.indices.push_back(i);
        }
        soup.parts = {{"box", "", 0, 12, false}};
        const FlatMesh mesh = build_flat_mesh(std::move(soup), {});
        CAPTURE(choice);
        // A closed shell ends up wound outward, so that what was turned is what was counted.
        CHECK(mesh.facts.flipped_windings == turned);
    }
}

TEST_CASE("a closed shell is wound outward") {
    Model m = unit_box;
    for (std::size_t t = 0; t < 12; ++t) turn(m, t);
    const Mesh mesh = load(m);
    CHECK(mesh.facts().flipped_windings == 12);
    CHECK(volume(mesh) == doctest::Approx(6.0));  // 1 * 2 * 3
}

TEST_CASE("a cavity stays a cavity, and goes along when all is inside out") {
    Model cavity = box({0.25, 0.25, 0.25}, {0.75, 0.75, 0.75});
    for (std::size_t t = 0; t < 12; ++t) turn(cavity, t);
    Model m = together(unit_box, cavity);
    SUBCASE("as it should be") {
        CHECK(load(m).facts().flipped_windings == 0);
    }
    SUBCASE("inside out") {
        for (std::size_t t = 0; t < 24; ++t) turn(m, t);
        CHECK(load(m).facts().flipped_windings == 24);
    }
    const Mesh mesh = load(m);
    CHECK(volume(mesh) == doctest::Approx(6.0 - 0.125));
    CHECK(mesh.facts().shells == 2);
    CHECK(mesh.facts().closed);
}

TEST_CASE("an open shell keeps the winding of its majority") {
    Model m = unit_box;
    m.triangles.resize(10);
    turn(m, 3);
    turn(m, 7);
    const Mesh mesh = load(m);
    CHECK(mesh.facts().flipped_windings == 2);
    CHECK(mesh.facts().boundary_edges == 4);
    CHECK(mesh.facts().crowded_edges == 0);
    CHECK_FALSE(mesh.facts().closed);
    CHECK(mesh.facts().shells == 1);
}

TEST_CASE("what touches only in a point is two shells, what shares an edge is one") {
    const Model at_point = together(box({0, 0, 0}, {1, 1, 1}), box({1, 1, 1}, {2, 2, 2}));
    CHECK(load(at_point).facts().shells == 2);
    CHECK(load(at_point).facts().crowded_edges == 0);
    const Model at_edge = together(box({0, 0, 0}, {1, 1, 1}), box({1, 1, 0}, {2, 2, 1}));
    CHECK(load(at_edge).facts().shells == 1);
    CHECK(load(at_edge).facts().crowded_edges == 1);
}

// A Moebius strip: n quads whose last joins the first upside down. It has one boundary of 2n edges,
// and no choice of windings agrees everywhere.
TEST_CASE("a surface of one side is said to be one") {
    Model m;
    const std::uint32_t n = 12;
    for (std::uint32_t i = 0; i < n; ++i) {
        const double turn = 2.0 * std::numbers::pi * i / n;
        for (const double side : {-0.3, 0.3}) {
            const double r = 1.0 + side * std::cos(turn / 2.0);
            m.points.emplace_back(r * std::cos(turn), r * std::sin(turn),
                                  side * std::sin(turn / 2.0));
        }
    }
    for (std::uint32_t i = 0; i < n; ++i) {
        const std::uint32_t a = 2 * i, b = a + 1;
        const std::uint32_t c = i + 1 < n ? a + 2 : 1, d = i + 1 < n ? a + 3 : 0;
        m.triangles.push_back({a, c, b});
        m.triangles.push_back({b, c, d});
    }
    const Mesh mesh = load(m);
    CHECK(mesh.facts().boundary_edges == 2 * n);
    REQUIRE_FALSE(mesh.facts().warnings.empty());
    CHECK(mesh.facts().warnings[0].find("the windings cannot be made to agree across ") == 0);
}

TEST_CASE("spatial order: every triangle once, compact clusters, the order of the file forgotten") {
    const Model ordered = sphere(10.0, 7);  // 327,680 triangles
    Model shuffled = ordered;
    std::shuffle(shuffled.triangles.begin(), shuffled.triangles.end(), std::mt19937(7));
    const Mesh mesh = load(shuffled);
    CHECK(mesh.indices().size() == 3 * ordered.triangles.size());
    CHECK(mesh.facts().closed);
    CHECK(mesh.facts().shells == 1);
    CHECK(mesh.vertices().size() == ordered.points.size());

    std::uint32_t next = 0;
    double mean_size = 0.0;
    for (const Cluster& c : mesh.clusters()) {
        CHECK(c.first_triangle == next);
        CHECK(c.triangle_count <= 4096);
        next += c.triangle_count;
        mean_size += glm::length(glm::dvec3(c.high[0], c.high[1], c.high[2]) -
                                 glm::dvec3(c.low[0], c.low[1], c.low[2]));
        for (std::size_t i = 3 * c.first_triangle; i < 3 * std::size_t{next}; ++i)
            for (std::size_t k = 0; k < 3; ++k) {
                const float v = mesh.vertices()[mesh.indices()[i]].position[k];
                REQUIRE((v >= c.low[k] && v <= c.high[k]));
            }
    }
    CHECK(next == ordered.triangles.size());
    // 80 clusters share 4 pi 100 of area: squares of side 4, diagonal 5.6. Twice that is compact;
    // clusters of the shuffled file would each span the whole sphere, 34.
    mean_size /= static_cast<double>(mesh.clusters().size());
    CHECK(mean_size < 2.0 * 5.6);

    // Vertices come in the order of their first use.
    std::uint32_t largest = 0;
    double jumps = 0.0;
    for (const std::uint32_t i : mesh.indices()) {
        jumps += i > largest + 1 ? 1.0 : 0.0;
        largest = std::max(largest, i);
    }
    CHECK(jumps == 0.0);
}

TEST_CASE("a repeated name passes over numbers that the file uses itself") {
    std::vector<PartRange> ranges;
    for (const char* name : {"a", "a", "a#2", "a", "a#2"})
        ranges.push_back({name, "", static_cast<std::uint32_t>(ranges.size()), 1, false});
    Shaded shaded;
    shaded.vertices.assign(1, Vertex{});
    shaded.indices.assign(15, 0);
    std::vector<std::string> names;
    for (const Part& part : flatten(std::move(shaded), ranges).parts) names.push_back(part.name);
    CHECK(names == std::vector<std::string>{"a", "a#3", "a#2", "a#4", "a#2#2"});
}
