// What lies behind the first surface, against closed forms, and what counts as solid.

#include <doctest/doctest.h>

#include "render/device_renderer.hpp"
#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

Triangles reversed(Triangles triangles) {
    for (auto& t : triangles) std::swap(t[1], t[2]);
    return triangles;
}

Triangles operator+(Triangles a, const Triangles& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

// A level square sheet of half side a at a height, facing the viewer.
Triangles sheet(double a, double z) {
    Triangles quad;
    add_quad(quad, {-a, -a, z}, {a, -a, z}, {a, a, z}, {-a, a, z});
    return quad;
}

// A closed box between two heights, outward.
Triangles box(double a, double low, double high) {
    Triangles sides = sheet(a, high) + reversed(sheet(a, low));
    const double x[4] = {-a, a, a, -a};
    const double y[4] = {-a, -a, a, a};
    for (int i = 0; i < 4; ++i) {
        const int j = (i + 1) % 4;
        add_quad(sides, {x[i], y[i], low}, {x[j], y[j], low}, {x[j], y[j], high},
                 {x[i], y[i], high});
    }
    return sides;
}

// A closed ball of rings of flat triangles; its corners lie on the sphere.
Triangles ball(double radius, double z, int count) {
    const auto at = [&](int ring, int i) {
        const double down = std::numbers::pi * ring / count;
        const double around = 2.0 * std::numbers::pi * (i % (2 * count)) / (2 * count);
        const double across = ring == 0 || ring == count ? 0.0 : radius * std::sin(down);
        return Point{across * std::cos(around), across * std::sin(around),
                     z + radius * std::cos(down)};
    };
    Triangles triangles;
    for (int ring = 0; ring < count; ++ring) {
        for (int i = 0; i < 2 * count; ++i) {
            if (ring > 0) triangles.push_back({at(ring, i), at(ring + 1, i), at(ring, i + 1)});
            if (ring + 1 < count) {
                triangles.push_back({at(ring, i + 1), at(ring + 1, i), at(ring + 1, i + 1)});
            }
        }
    }
    return triangles;
}

RenderRequest undercut_request(int side, double px_per_mm) {
    RenderRequest request;
    request.grid = {side, side, px_per_mm, -0.5 * side / px_per_mm, 0.5 * side / px_per_mm};
    request.undercut_least_mm = 0.01;
    return request;
}

// What a line of sight through the middle of level faces says.
struct Middle {
    double empty_mm, layers, behind_mm;
};
Middle middle_of(const Triangles& triangles, double least_mm = 0.01) {
    RenderRequest request = undercut_request(20, 10.0);
    request.undercut_least_mm = least_mm;
    const auto planes = render_of(triangles, request);
    return {planes.undercut.empty_mm.at(11, 7), planes.undercut.layers.at(11, 7),
            planes.undercut.behind_mm.at(11, 7)};
}

void check_middle(const Triangles& triangles, double empty_mm, double layers, double behind_mm) {
    const Middle found = middle_of(triangles);
    // Depths of some 10 mm in single precision: a few roundings of 2^-24.
    CHECK(found.empty_mm == doctest::Approx(empty_mm).epsilon(1e-5));
    CHECK(found.layers == layers);
    CHECK(found.behind_mm == doctest::Approx(behind_mm).epsilon(1e-5));
}

}  // namespace

TEST_CASE("undercut: between a ball and the ground below it lie pi r^2 c - 2/3 pi r^3") {
    // A ball of radius r, its centre c over the ground: under (x, y) the gap is
    // c - sqrt(r^2 - x^2 - y^2). Rings of flat triangles lie within the sphere by up to
    // r (1 - cos(pi / 2 / rings)) each way: 3e-4 of r, and so much less is the ball's volume twice.
    constexpr double r = 3.0;
    constexpr double c = 4.0;
    constexpr int count = 64;
    const double sag_mm = 2.0 * r * (1.0 - std::cos(std::numbers::pi / 2 / count));
    const auto planes = render_of(ball(r, c, count) + sheet(4.5, 0.0), undercut_request(100, 10.0));
    const Undercut<Plane>& undercut = planes.undercut;
    CHECK(spread(planes.coverage) == 1.0F);
    for (int y = 0; y < 100; ++y) {
        for (int x = 0; x < 100; ++x) {
            const double rho = glm::length(undercut_request(100, 10.0).grid.centre_of(x, y));
            if (rho > r + 0.08) {
                REQUIRE(undercut.empty_mm.at(x, y) == 0.0F);
                REQUIRE(undercut.hidden.at(x, y) == 0.0F);
            }
            if (rho > 0.9 * r) continue;
            // The mean over a pixel of 0.1 mm: the second derivative r^2 / (r^2 - rho^2)^1.5 at
            // 0.9 r is 4.03 per mm, times the pixel's mean square of x, 0.1^2 / 12, for both axes.
            const double gap = c - std::sqrt(r * r - rho * rho);
            REQUIRE(std::fabs(undercut.empty_mm.at(x, y) - gap) < sag_mm / 0.43 + 0.004);
            REQUIRE(undercut.layers.at(x, y) == 1.0F);
            REQUIRE(undercut.hidden.at(x, y) == 1.0F);
        }
    }
    // Of the outline's some 190 pixels each is off by up to 1/16 at random, and the polygon of 128
    // sides is 4e-4 smaller than the circle.
    const double circle_mm2 = std::numbers::pi * r * r;
    CHECK(std::fabs(sum(undercut.hidden) / 100.0 - circle_mm2) <
          5e-4 * circle_mm2 + 14.0 / 16.0 / 100.0);
    const double volume = circle_mm2 * c - 2.0 / 3.0 * std::numbers::pi * r * r * r;
    CHECK(std::fabs(sum(undercut.empty_mm3) - volume) < 2e-3 * volume);
    CHECK(sum(undercut.empty_mm3) ==
          doctest::Approx(sum(undercut.empty_mm) / 100.0).epsilon(0.002));  // mean, not at edges
    // From the ball's top to the ground.
    CHECK(spread(undercut.behind_mm) == doctest::Approx(c + r).epsilon(1e-3));
    CHECK(sum(undercut.backs) == 0.0);
}

TEST_CASE("undercut: in perspective a gap is a frustum of the view's pyramid") {
    // A roof of half side 1.2 at height 2 over the ground at -1, from an eye at 10: all of the
    // picture's 2 x 2 mm sees it. Between z = 2 and -1 a line of sight that takes area A in the
    // plane z = 0 has the volume A / (3 E^2) ((E + 1)^3 - (E - 2)^3).
    RenderRequest request = undercut_request(20, 10.0);
    request.camera.projection = Projection::perspective;
    request.camera.eye_mm = 10.0;
    const auto planes = render_of(sheet(1.2, 2.0) + sheet(5.0, -1.0), request);
    const double volume = 4.0 / 300.0 * (11.0 * 11.0 * 11.0 - 8.0 * 8.0 * 8.0);
    CHECK(sum(planes.undercut.empty_mm3) == doctest::Approx(volume).epsilon(1e-5));
    CHECK(planes.undercut.empty_mm.at(3, 3) == doctest::Approx(3.0).epsilon(1e-5));
}

TEST_CASE("undercut: shells that touch, overlap or are filled have no gap") {
    check_middle(box(3, 0, 2), 0, 0, 0);
    check_middle(box(3, 0, 2) + box(4, 2, 5), 0, 0, 0);      // the faces lie in one plane
    check_middle(box(3, 0, 2) + box(4, 1, 5), 0, 0, 0);      // into each other
    check_middle(box(3, 0, 5) + box(2, 1, 3), 0, 0, 0);      // one within the other, both solid
    check_middle(box(3, 0, 2) + box(3, 2.005, 5), 0, 0, 0);  // closer than least_mm
    // The same is a gap where it is asked for.
    const Triangles apart = box(3, 0, 2) + box(3, 2.005, 5);
    CHECK(middle_of(apart, 0.001).empty_mm == doctest::Approx(0.005).epsilon(1e-3));
}

TEST_CASE("undercut: gaps behind one another are summed; the last surface is the depth") {
    // 8..7, 5..4 and 2..0 are solid: gaps of 2 and 2, the last top 6 below the first.
    check_middle(box(3, 0, 2) + box(3, 4, 5) + box(3, 7, 8), 4, 2, 6);
    // A cavity is a gap, its floor a surface that nothing shows.
    check_middle(box(3, 0, 5) + reversed(box(2, 1, 3)), 2, 1, 4);
}

TEST_CASE("undercut: an open sheet has no thickness, whichever way it faces") {
    const Triangles body = box(2, 0, 2);
    for (const double turned : {false, true}) {
        CAPTURE(turned);
        const Triangles over = turned ? reversed(sheet(3, 5)) : sheet(3, 5);
        check_middle(over + body, 3, 1, 3);
        const Triangles under = turned ? reversed(sheet(3, -1)) : sheet(3, -1);
        check_middle(body + under, 1, 1, 3);
        check_middle(over + under, 6, 1, 6);
        check_middle(over + over, 0, 0, 0);  // a sheet that is there twice
        check_middle(sheet(3, 5.005) + over, 0, 0, 0);
    }
    // Both sides modelled, one on the other: still a sheet; and two such are no box.
    const Triangles twofold = sheet(3, 5) + reversed(sheet(3, 5));
    check_middle(twofold + body, 3, 1, 3);
    check_middle(twofold + sheet(3, 4) + reversed(sheet(3, 4)), 1, 1, 1);
    // A cap that is open below: nothing behind it.
    check_middle(sheet(3, 5), 0, 0, 0);
}

TEST_CASE("undercut: what shows its back is told") {
    const auto planes = render_of(reversed(sheet(3, 5)), undercut_request(20, 10.0));
    CHECK(sum(planes.undercut.backs) == 400.0);
}

TEST_CASE("undercut does not depend on strips, and covers what the raster covers") {
    const Mesh mesh = load_ball();
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        CAPTURE(static_cast<int>(projection));
        RenderRequest request = request_of(projection);
        request.camera.view_from_model = glm::dmat3(0.8, 0, -0.6, 0, 1, 0, 0.6, 0, 0.8);
        request.occlusion_reach_mm.reset();
        request.undercut_least_mm = 0.001;
        ProcessorRenderer at_once(std::int64_t{1} << 30);
        ProcessorRenderer in_strips(1);
        at_once.set_mesh(mesh, all_parts(mesh));
        in_strips.set_mesh(mesh, all_parts(mesh));
        auto expected = whole(at_once, request);
        auto planes = whole(in_strips, request);
        for (std::size_t i = 0; i < planes.undercut.all().size(); ++i) {
            CHECK(planes.undercut.all()[i]->values == expected.undercut.all()[i]->values);
        }
        CHECK(spread(planes.undercut.empty_mm) > 0.1);  // the shelf hangs over
    }
}

TEST_CASE("undercut: a renderer with a context leaves it to the processor") {
    RenderRequest request = undercut_request(20, 10.0);
    DeviceRenderer renderer(DeviceChoice::automatic);
    CHECK(renderer.facts(request).way == "processor");
}
