#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <set>

#include "model/repair/surface.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

double angle_between(glm::dvec3 a, glm::dvec3 b) {
    return std::atan2(glm::length(glm::cross(a, b)), glm::dot(a, b));
}

LoadOptions with(double crease_deg, NormalSource source = NormalSource::automatic) {
    LoadOptions options = no_cache();
    options.reading.crease_deg = crease_deg;
    options.reading.normals = source;
    return options;
}

glm::dvec3 normal(const Mesh& mesh, std::size_t corner) {
    return decode_octahedral(mesh.vertices()[mesh.indices()[corner]].normal);
}

// What the renderer counts on: each normal is on the side that its triangle is wound to.
void check_sides(const Mesh& mesh) {
    for (std::size_t c = 0; c < mesh.indices().size(); ++c)
        REQUIRE(glm::dot(normal(mesh, c), winding_normal(mesh, c / 3)) >= 0.0);
}

Model with_radial_normals(Model m, double sign = 1.0) {
    for (const glm::vec3& p : m.points)
        m.normals.push_back(glm::vec3(sign * glm::normalize(glm::dvec3(p))));
    return m;
}

}  // namespace

// A point of the octahedron is off by at most half a step, 1/65534, in each of x and y, and so by
// the sum of both in z: sqrt(1 + 1 + 4)/65534. The octahedron comes as near to the middle as
// 1/sqrt(3), so that the direction is off by at most sqrt(18)/65534 = 6.474e-5 rad.
TEST_CASE("octahedral codes keep their stated worst error") {
    const double bound = std::sqrt(18.0) / 65534.0;
    CHECK(bound < code_error_rad);
    double worst = 0.0;
    std::mt19937_64 random(1);
    std::normal_distribution<double> gauss;
    for (int i = 0; i < 2'000'000; ++i) {
        glm::dvec3 v(gauss(random), gauss(random), gauss(random));
        // Also near the planes and axes where the octahedron has its folds.
        for (int k = 0; k < 3; ++k)
            if ((i >> k & 1) != 0 && i % 3 == 0) v[k] *= 1e-5;
        v = glm::normalize(v);
        worst = std::max(worst, angle_between(v, decode_octahedral(encode_octahedral(v))));
    }
    MESSAGE("worst error found: " << worst << " rad, bound " << bound);
    CHECK(worst <= bound);
    CHECK(worst > 0.9 * bound);  // the sampling comes near the worst
}

TEST_CASE("octahedral codes of all of the grid's rows decode to unit vectors and come back") {
    double worst_length = 0.0;
    std::size_t changed = 0;
    for (int x = -32767; x <= 32767; ++x) {
        for (int y = -32767 + (x + 32767) % 509; y <= 32767; y += 509) {
            const std::array<std::int16_t, 2> code{static_cast<std::int16_t>(x),
                                                   static_cast<std::int16_t>(y)};
            const glm::dvec3 v = decode_octahedral(code);
            worst_length = std::max(worst_length, std::abs(glm::length(v) - 1.0));
            const bool on_rim = std::abs(x) == 32767 || std::abs(y) == 32767;  // each point twice
            changed += !on_rim && encode_octahedral(v) != code;
        }
    }
    CHECK(worst_length < 1e-15);
    CHECK(changed == 0);
}

TEST_CASE("axes have exact octahedral codes") {
    for (int k = 0; k < 6; ++k) {
        glm::dvec3 v(0.0);
        v[k / 2] = k % 2 == 0 ? 1.0 : -1.0;
        CHECK(decode_octahedral(encode_octahedral(v)) == v);
    }
}

TEST_CASE("a box with a crease of 60 degrees has three sharp normals at each corner") {
    const Mesh mesh = load(box({0, 0, 0}, {1, 2, 3}), with(60.0));
    CHECK(mesh.facts().normals == "made");
    CHECK(mesh.vertices().size() == 24);
    for (std::size_t c = 0; c < 36; ++c)
        CHECK(normal(mesh, c) == glm::normalize(winding_normal(mesh, c / 3)));
    check_sides(mesh);
}

// Three right angles meet at each corner of a box, whatever its sides and however its faces are
// cut, so that angle weights give the mean of three axes.
TEST_CASE("a box with a crease of 180 degrees has the mean of three axes at each corner") {
    const Mesh mesh = load(box({0, 0, 0}, {1, 2, 3}), with(180.0));
    CHECK(mesh.vertices().size() == 8);
    for (const Vertex& v : mesh.vertices()) {
        const glm::dvec3 out = glm::sign(position(v) - mesh.bounds().centre());
        CHECK(angle_between(decode_octahedral(v.normal), out) < code_error_rad);
    }
    check_sides(mesh);
}

// The angles of a turned triangle go with its corners.
TEST_CASE("turned triangles change no normal of the box") {
    Model m = box({0, 0, 0}, {1, 2, 3});
    for (const std::size_t t : {1, 4, 9}) turn(m, t);
    const Mesh mesh = load(m, with(180.0));
    CHECK(mesh.facts().flipped_windings == 3);
    CHECK(mesh.vertices().size() == 8);
    for (const Vertex& v : mesh.vertices()) {
        const glm::dvec3 out = glm::sign(position(v) - mesh.bounds().centre());
        CHECK(angle_between(decode_octahedral(v.normal), out) < code_error_rad);
    }
    check_sides(mesh);
}

TEST_CASE("faces that meet at exactly the crease angle are smooth, a little more is sharp") {
    CHECK(load(box({0, 0, 0}, {1, 1, 1}), with(90.0)).vertices().size() == 8);
    CHECK(load(box({0, 0, 0}, {1, 1, 1}), with(89.9)).vertices().size() == 24);
}

/// A bar of so long along y on a section in x and z that is wound against the clock seen from -y.
Model bar(const std::vector<glm::vec2>& section, float length) {
    Model model;
    for (const float y : {0.0F, length})
        for (const glm::vec2& p : section) model.points.emplace_back(p.x, y, p.y);
    const auto n = static_cast<std::uint32_t>(section.size());
    for (std::uint32_t i = 0; i < n; ++i) {
        const std::uint32_t next = (i + 1) % n;
        model.triangles.push_back({i, n + next, next});
        model.triangles.push_back({i, n + i, n + next});
    }
    for (std::uint32_t i = 2; i < n; ++i) {
        model.triangles.push_back({0, i - 1, i});
        model.triangles.push_back({n, n + i, n + i - 1});
    }
    return model;
}

// What two materials have between them: nobody sees it, and the skin over it must not either.
TEST_CASE("an inner wall that meets the skin obliquely does not bend it") {
    const Model right = bar({{-1, 0}, {2, 0}, {2, 1}, {0, 1}}, 5);
    const Model left = bar({{-2, 0}, {-1, 0}, {0, 1}, {-2, 1}}, 5);
    Model open = left;
    std::erase_if(open.triangles, [](const auto& t) {
        return std::all_of(t.begin(), t.end(),
                           [](std::uint32_t p) { return p % 4 == 1 || p % 4 == 2; });
    });
    REQUIRE(open.triangles.size() == 10);
    for (const Model& model :
         {together(right, left), together(left, right), together(right, open)}) {
        const Mesh mesh = load(model, with(60.0));
        CHECK(mesh.facts().crowded_edges > 0);
        CHECK(mesh.facts().flipped_windings == 0);
        int skin = 0;
        for (std::size_t c = 0; c < mesh.indices().size(); ++c) {
            const glm::dvec3 wound = glm::normalize(winding_normal(mesh, c / 3));
            if (std::abs(wound.x) > 0.5 && std::abs(wound.z) > 0.5) continue;  // the wall
            ++skin;
            CHECK(angle_between(normal(mesh, c), wound) < code_error_rad);
        }
        CHECK(skin == 3 * (2 * 12 - 4));
    }
}

TEST_CASE("sheets that cross go on in themselves") {
    // A level one, and one that rises at 45 degrees; both have the edge along y between them.
    Model model;
    model.points = {{-1, 0, 0}, {-1, 1, 0},  {0, 0, 0},   {0, 1, 0}, {1, 0, 0},
                    {1, 1, 0},  {-1, 0, -1}, {-1, 1, -1}, {1, 0, 1}, {1, 1, 1}};
    const auto quad = [&](std::uint32_t a, std::uint32_t b, std::uint32_t c, std::uint32_t d) {
        model.triangles.push_back({a, b, c});
        model.triangles.push_back({a, c, d});
    };
    quad(0, 2, 3, 1);
    quad(2, 4, 5, 3);
    quad(6, 2, 3, 7);
    quad(2, 8, 9, 3);
    const Mesh mesh = load(model, with(60.0));
    CHECK(mesh.facts().crowded_edges == 1);
    for (std::size_t c = 0; c < mesh.indices().size(); ++c)
        CHECK(angle_between(normal(mesh, c), winding_normal(mesh, c / 3)) < code_error_rad);
}

// A triangle's normal points along the axis of the circle through its corners, which all lie on the
// sphere: it is off from the radius at a corner by the circle's angular radius. Any mean of such
// normals is off by no more.
TEST_CASE("made normals of a sphere point along the radius") {
    const double radius = 7.0;
    const Model model = sphere(radius, 4);
    double worst_circle = 0.0;
    for (const auto& [a, b, c] : model.triangles) {
        const glm::dvec3 p(model.points[a]), q(model.points[b]), r(model.points[c]);
        const double circle = glm::length(q - p) * glm::length(r - q) * glm::length(p - r) /
                              (2.0 * glm::length(glm::cross(q - p, r - p)));
        worst_circle = std::max(worst_circle, std::asin(circle / radius));
    }
    const Mesh mesh = load(model);
    CHECK(mesh.vertices().size() == model.points.size());
    double worst = 0.0;
    for (const Vertex& v : mesh.vertices())
        worst = std::max(worst, angle_between(decode_octahedral(v.normal), position(v)));
    CHECK(worst < worst_circle + code_error_rad);
    CHECK(worst > 0.0);
    check_sides(mesh);
}

// std::acos of the law of cosines is the other way to the same angles.
TEST_CASE("angles of faces keep their stated error") {
    Soup soup;
    Surface surface;
    std::mt19937 random(3);
    std::uniform_real_distribution<float> at(-1.0f, 1.0f);
    for (std::uint32_t i = 0; i < 3 * 20'000; ++i) {
        soup.positions.emplace_back(at(random), at(random), at(random));
        surface.points.push_back(i);
    }
    surface.positions = soup.positions;
    double worst = 0.0;
    for (std::size_t t = 0; t < surface.triangle_count(); ++t)
        for (std::size_t k = 0; k < 3; ++k) {
            const glm::dvec3 p(soup.positions[3 * t + k]);
            const glm::dvec3 q(soup.positions[3 * t + (k + 1) % 3]);
            const glm::dvec3 r(soup.positions[3 * t + (k + 2) % 3]);
            worst = std::max(
                worst, std::abs(angle_between(q - p, r - p) - double{surface.face(t).angles[k]}));
        }
    // Two errors of 2.1e-8 add up in the third angle; a float near pi is off by up to 1.2e-7.
    CHECK(worst < 2 * 2.1e-8 + 1.2e-7);
}

TEST_CASE("the file's own normals are used as they are") {
    const Mesh mesh = load(with_radial_normals(sphere(2.0, 2)));
    CHECK(mesh.facts().normals == "from the file");
    CHECK(mesh.facts().broken_normals == 0);
    for (const Vertex& v : mesh.vertices())
        CHECK(angle_between(decode_octahedral(v.normal), position(v)) < code_error_rad);
}

TEST_CASE("normals that all point inward are turned, not made anew") {
    const Mesh mesh = load(with_radial_normals(sphere(2.0, 2), -1.0));
    CHECK(mesh.facts().normals == "from the file");
    CHECK(mesh.facts().broken_normals == 0);
    for (const Vertex& v : mesh.vertices())
        CHECK(angle_between(decode_octahedral(v.normal), position(v)) < code_error_rad);
}

TEST_CASE("broken normals are made anew and counted by corners") {
    Model m = with_radial_normals(sphere(2.0, 2));
    const auto corners_at = [&](std::uint32_t point) {
        std::uint64_t n = 0;
        for (const auto& t : m.triangles) n += std::count(t.begin(), t.end(), point);
        return n;
    };
    m.normals[20] = glm::vec3(std::numeric_limits<float>::quiet_NaN());
    m.normals[50] = glm::vec3(0.0f);
    m.normals[90] = -m.normals[90];
    const std::uint64_t broken = corners_at(20) + corners_at(50) + corners_at(90);
    const Mesh mesh = load(m);
    CHECK(mesh.facts().broken_normals == broken);
    CHECK(mesh.facts().normals == "from the file, " + std::to_string(broken) + " made");
    check_sides(mesh);
}

TEST_CASE("the scene's choice of normals") {
    const Model m = with_radial_normals(box({-1, -1, -1}, {1, 1, 1}));
    CHECK(load(m, with(60.0, NormalSource::automatic)).vertices().size() == 8);
    CHECK(load(m, with(60.0, NormalSource::file)).vertices().size() == 8);
    const Mesh made = load(m, with(60.0, NormalSource::made));
    CHECK(made.facts().normals == "made");
    CHECK(made.vertices().size() == 24);
}

TEST_CASE("normals of STL facets carry no smoothness and are used only when asked for") {
    const TemporaryFolder folder;
    Model m = sphere(1.0, 2);
    std::string text = as_stl(m);
    // Facet normals that are right, instead of zeros.
    std::string out;
    std::size_t at = 0;
    for (const auto& [a, b, c] : m.triangles) {
        const std::size_t next = text.find("0 0 0\n", at);
        const glm::vec3 n =
            glm::normalize(glm::cross(m.points[b] - m.points[a], m.points[c] - m.points[a]));
        out += text.substr(at, next - at) + std::to_string(n.x) + " " + std::to_string(n.y) + " " +
               std::to_string(n.z) + "\n";
        at = next + 6;
    }
    write(folder / "a.stl", out + text.substr(at));
    const Mesh smooth = load_model(folder / "a.stl", with(60.0));
    CHECK(smooth.facts().normals == "made");
    CHECK(smooth.vertices().size() == m.points.size());
    const Mesh flat = load_model(folder / "a.stl", with(60.0, NormalSource::file));
    CHECK(flat.facts().normals == "from the file");
    CHECK(flat.vertices().size() == 3 * m.triangles.size());
}

// Both sheets of a folded, doubled or needle-sharp surface; whatever comes in, the sides agree.
TEST_CASE("every corner's normal is on the side of its winding, whatever the surface") {
    std::mt19937 random(11);
    std::uniform_int_distribution<std::uint32_t> pick(0, 59);
    std::uniform_real_distribution<float> at(-1.0f, 1.0f);
    for (int round = 0; round < 20; ++round) {
        Model m;
        for (int i = 0; i < 60; ++i)
            m.points.emplace_back(at(random), at(random), at(random) * (round % 2 ? 1.0f : 1e-6f));
        for (int i = 0; i < 400; ++i)
            m.triangles.push_back({pick(random), pick(random), pick(random)});
        if (round % 4 > 1)
            for (int i = 0; i < 60; ++i) m.normals.emplace_back(at(random), at(random), at(random));
        CAPTURE(round);
        for (const double crease : {0.0, 60.0, 180.0}) check_sides(load(m, with(crease)));
    }
}

// Rounded to the nearest code, half of these would end up behind their faces.
TEST_CASE("normals in the plane of their face stay on its side") {
    std::mt19937 random(5);
    std::uniform_real_distribution<float> at(-1.0f, 1.0f);
    Model m;
    for (std::uint32_t t = 0; t < 2000; ++t) {
        for (int k = 0; k < 3; ++k) m.points.emplace_back(at(random), at(random), at(random));
        const glm::vec3 edge = glm::normalize(m.points[3 * t + 1] - m.points[3 * t]);
        m.normals.insert(m.normals.end(), 3, edge);
        m.triangles.push_back({3 * t, 3 * t + 1, 3 * t + 2});
    }
    const Mesh mesh = load(m, with(60.0, NormalSource::file));
    check_sides(mesh);
    double worst = 0.0;  // and they are moved by no more than it takes
    for (std::size_t c = 0; c < mesh.indices().size(); ++c) {
        const double sine = glm::dot(normal(mesh, c), glm::normalize(winding_normal(mesh, c / 3)));
        worst = std::max(worst, sine);
    }
    CHECK(worst < 2e-4 + 2 * code_error_rad);
}

// A cone whose tip has more corners than the paths for few corners take.
TEST_CASE("a point with very many triangles") {
    Model m{{{0, 0, 5}}, {}, {}};
    const std::uint32_t n = 3000;
    for (std::uint32_t i = 0; i < n; ++i)
        m.points.emplace_back(std::cos(i * 6.283185307 / n), std::sin(i * 6.283185307 / n), 0.0);
    for (std::uint32_t i = 0; i < n; ++i) m.triangles.push_back({0, i + 1, (i + 1) % n + 1});
    const Mesh sharp = load(m, with(0.0));
    CHECK(sharp.facts().boundary_edges == n);
    check_sides(sharp);
    const Mesh smooth = load(m, with(60.0));
    CHECK(smooth.vertices().size() == n + 1);
    // By symmetry the tip's normal is the axis.
    for (const Vertex& v : smooth.vertices())
        if (v.position[2] == 5.0f)
            CHECK(angle_between(decode_octahedral(v.normal), {0, 0, 1}) < code_error_rad);
    check_sides(smooth);
}
