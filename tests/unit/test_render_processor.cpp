// The raster on the processor: exact where geometry says what must come out, the same whatever the
// strips, and beside OpenGL's raster of the same mesh.

#include <doctest/doctest.h>

#include <cmath>
#include <memory>

#include "error.hpp"
#include "render/graphics_renderer.hpp"
#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

RenderRequest plain_request(int width, int height, double px_per_mm) {
    RenderRequest request;
    request.grid = {width, height, px_per_mm, -0.5 * width / px_per_mm, 0.5 * height / px_per_mm};
    return request;
}

// A fan around a point off the grid: many slivers, every edge shared by two triangles.
Triangles fan(int count, double radius) {
    Triangles triangles;
    const auto rim = [&](int i) {
        const double angle = 2.0 * std::numbers::pi * i / count;
        return std::array<double, 3>{radius * std::cos(angle), radius * std::sin(angle), 0.0};
    };
    for (int i = 0; i < count; ++i) {
        triangles.push_back({{{0.0123, 0.0077, 0.0}, rim(i), rim((i + 1) % count)}});
    }
    return triangles;
}

bool same(const Plane& a, const Plane& b) {
    return a.values == b.values;
}

}  // namespace

TEST_CASE("a tilted triangle lies at its plane's height, to single precision") {
    // z = 0.3 x - 0.7 y + 1.25 over the whole picture, whose pixels' samples lie evenly about their
    // centres: the mean over a full pixel is the plane at its centre.
    const auto z = [](double x, double y) { return 0.3 * x - 0.7 * y + 1.25; };
    const auto corner = [&](double x, double y) { return std::array<double, 3>{x, y, z(x, y)}; };
    for (const int samples : {1, 3, 4, 7}) {
        CAPTURE(samples);
        RenderRequest request = plain_request(90, 70, 10.0);
        request.samples = samples;
        const auto planes =
            render_of({{{corner(-40, -30), corner(40, -30), corner(0, 60)}}}, request);
        for (int y = 0; y < 70; ++y) {
            for (int x = 0; x < 90; ++x) {
                const glm::dvec2 at = request.grid.centre_of(x, y);
                REQUIRE(planes.coverage.at(x, y) == 1.0F);
                // Lifts of some 30 mm over the floor, a few roundings of 2^-24 each.
                CHECK(std::fabs(planes.height_mm.at(x, y) - z(at.x, at.y)) < 30.0 * 1e-6);
            }
        }
        const double length = std::sqrt(0.3 * 0.3 + 0.7 * 0.7 + 1.0);
        CHECK(planes.normal_x.at(40, 30) == doctest::Approx(-0.3 / length).epsilon(1e-4));
        CHECK(planes.normal_y.at(40, 30) == doctest::Approx(0.7 / length).epsilon(1e-4));
    }
}

TEST_CASE("triangles that share edges leave no sample between them and share none") {
    RenderRequest request = plain_request(200, 200, 20.0);
    const auto planes = render_of(fan(97, 4.0), request);
    for (int y = 0; y < 200; ++y) {
        for (int x = 0; x < 200; ++x) {
            const double r = glm::length(request.grid.centre_of(x, y));
            // Inside the polygon's inner circle by a pixel's half diagonal.
            if (r < 4.0 * std::cos(std::numbers::pi / 97) - 0.036) {
                REQUIRE(planes.coverage.at(x, y) == 1.0F);
            }
            if (r > 4.036) REQUIRE(planes.coverage.at(x, y) == 0.0F);
        }
    }
    // The area of the regular polygon, n/2 r^2 sin(2 pi / n). Each of the some 500 pixels of the
    // outline is off by up to half of a sixteenth, at random: 0.5/16 * sqrt(500) px of 20,000.
    const double area_mm2 = 97 / 2.0 * 16.0 * std::sin(2.0 * std::numbers::pi / 97);
    CHECK(std::fabs(sum(planes.coverage) / 400.0 - area_mm2) < 4.0 * 0.7 / 400.0);
}

TEST_CASE("of two surfaces the nearer is seen, however they are listed and turned") {
    const Corners low{{{-9, -9, 0}, {9, -9, 0}, {0, 12, 0}}};
    const Corners high{{{-2, -2, 1}, {0, 3, 1}, {2, -2, 1}}};  // clockwise: seen from behind
    for (const auto& order : {Triangles{low, high}, Triangles{high, low}}) {
        const auto planes = render_of(order, plain_request(80, 80, 10.0));
        CHECK(planes.height_mm.at(40, 40) == 1.0F);
        CHECK(planes.height_mm.at(40, 75) == 0.0F);
        CHECK(planes.normal_z.at(40, 40) == 1.0F);
    }
}

TEST_CASE("what leaves the space of numbers, or passes the eye, is cut and not lost") {
    RenderRequest request = plain_request(64, 64, 400.0);
    // 1.5e9 sub-samples and more away: whose products, or which themselves, are beyond numbers.
    for (const double far : {915.0, 1e5}) {
        CAPTURE(far);
        const Corners huge{{{-far, -far, 0}, {far, -far, 0}, {0, 1.3 * far, 0}}};
        CHECK(sum(render_of({huge}, request).coverage) == 64.0 * 64.0);
    }

    // A floor that runs from far behind the eye to far before it, seen along it from above.
    request.camera.projection = Projection::perspective;
    request.camera.eye_mm = 50.0;
    const Corners floor{{{-100, -1, 60}, {100, -1, 60}, {0, -1, -3000}}};
    const auto seen = render_of({floor}, plain_request(64, 64, 4.0)).coverage;
    const auto planes = [&] {
        RenderRequest wide = plain_request(64, 64, 4.0);
        wide.camera = request.camera;
        return render_of({floor}, wide);
    }();
    CHECK(sum(seen) == 0.0);  // edge on without perspective
    CHECK(sum(planes.coverage) > 500.0);
    for (int y = 0; y < 30; ++y) CHECK(planes.coverage.at(32, y) == 0.0F);  // over the horizon
    CHECK(planes.coverage.at(32, 60) == 1.0F);
}

TEST_CASE("pictures do not depend on how they are cut into strips") {
    const Mesh mesh = load_ball();
    // Curvature of more than one run, whose margin is the farthest look; and occlusion alone, which
    // looks over several strips.
    for (const auto scale_mm : {std::optional(0.5), std::optional<double>()}) {
        for (const Projection projection : {Projection::parallel, Projection::perspective}) {
            CAPTURE(scale_mm.value_or(0.0));
            CAPTURE(static_cast<int>(projection));
            RenderRequest request = request_of(projection);
            request.occlusion_reach_mm = 4.0;
            request.curvature_scale_mm = scale_mm;
            request.contour_step_mm = 0.2;
            request.mask_parts = {0};
            ProcessorRenderer at_once(std::int64_t{1} << 30);
            ProcessorRenderer in_strips(1);
            at_once.set_mesh(mesh, all_parts(mesh));
            in_strips.set_mesh(mesh, all_parts(mesh));
            const auto expected = whole(at_once, request);
            // Another picture of the same size before, so that memory which is read too early does
            // not hold by chance what was drawn a moment ago.
            RenderRequest turned = request;
            turned.camera.view_from_model = glm::dmat3(-1, 0, 0, 0, 1, 0, 0, 0, -1);
            whole(in_strips, turned);
            const auto planes = whole(in_strips, request);
            CHECK(spread(expected.occlusion) > 0.3);
            CHECK(spread(expected.contour) > 0.9);
            if (scale_mm) CHECK(spread(expected.curvature) > 0.3);
            CHECK(same(planes.coverage, expected.coverage));
            CHECK(same(planes.height_mm, expected.height_mm));
            CHECK(same(planes.normal_x, expected.normal_x));
            CHECK(same(planes.normal_z, expected.normal_z));
            CHECK(same(planes.occlusion, expected.occlusion));
            CHECK(same(planes.curvature, expected.curvature));
            CHECK(same(planes.contour, expected.contour));
            CHECK(same(planes.masks[0], expected.masks[0]));
            CHECK(same(planes.masks[0], expected.coverage));  // one part alone
        }
    }
}

TEST_CASE("OpenGL's raster of the same mesh shows the same") {
    const Mesh mesh = load_ball();  // forks: before there is a context
    const auto context = context_or_skip(false);
    if (!context) return;
    GraphicsRenderer graphics(*context, PassDevice::processor);
    ProcessorRenderer processor;
    graphics.set_mesh(mesh, all_parts(mesh));
    processor.set_mesh(mesh, all_parts(mesh));
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        CAPTURE(static_cast<int>(projection));
        RenderRequest request = request_of(projection);
        request.contour_step_mm = 0.2;
        const auto a = whole(processor, request);
        const auto b = whole(graphics, request);
        // OpenGL rounds corners, here to 1/256 of a sample (OpenGL 4.1 core, SUBPIXEL_BITS: at
        // least 4 bits), so that about that share of the samples on outlines changes hands.
        CHECK(std::fabs(sum(a.coverage) - sum(b.coverage)) < 1e-4 * sum(b.coverage));
        CHECK(differing(a, b, a.coverage, b.coverage, 0.5 / 16.0) < 0.002);
        // A corner moved by 1/256 of a sample of 0.0125 mm tilts a triangle; at slopes up to 3 that
        // is 1.5e-4 mm at the most.
        CHECK(differing(a, b, a.height_mm, b.height_mm, 2e-4) < 0.005);
        // Octahedral codes of 16 bits: 6.5e-5 a sample, and the corners' shift over a triangle.
        CHECK(differing(a, b, a.normal_x, b.normal_x, 5e-4) < 0.005);
        CHECK(differing(a, b, a.normal_y, b.normal_y, 5e-4) < 0.005);
        CHECK(differing(a, b, a.occlusion, b.occlusion, 2e-3) < 0.005);
        CHECK(differing(a, b, a.contour, b.contour, 1.5 / 16.0) < 0.005);
    }
}

namespace {

/// A ring about the z axis, closed, wound outward.
Triangles ring(double radius, double tube, int around_ring, int around_tube) {
    const auto at = [&](int i, int j) -> Point {
        const double u = 2.0 * std::numbers::pi * (i % around_ring) / around_ring;
        const double v = 2.0 * std::numbers::pi * (j % around_tube) / around_tube;
        const double r = radius + tube * std::cos(v);
        return {r * std::cos(u), r * std::sin(u), tube * std::sin(v)};
    };
    Triangles triangles;
    for (int i = 0; i < around_ring; ++i)
        for (int j = 0; j < around_tube; ++j)
            add_quad(triangles, at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
    return triangles;
}

Triangles turned_inside_out(Triangles triangles) {
    for (Corners& corners : triangles) std::swap(corners[1], corners[2]);
    return triangles;
}

}  // namespace

// Both cover the whole picture, so that whole tiles have a surface before the other is looked at.
TEST_CASE("a back that is nearer than the fronts by a hair is what is seen, and none behind them") {
    const Corners front{{{-90, -90, 0}, {90, -90, 0}, {0, 120, 0}}};
    for (const double z : {0.001, -0.001}) {
        const Corners back{{{-90, -90, z}, {0, 120, z}, {90, -90, z}}};
        const auto planes = render_of({front, back}, plain_request(100, 100, 10.0));
        for (const float height_mm : planes.height_mm.values)
            REQUIRE(height_mm == doctest::Approx(std::max(z, 0.0)).scale(1.0).epsilon(1e-5));
    }
}

TEST_CASE("a triangle that is never seen changes nothing that is seen") {
    const Triangles closed = ring(3.2, 1.1, 160, 80);
    // At the far side.
    Triangles open = closed;
    open.erase(std::find_if(open.begin(), open.end(), [](const Corners& corners) {
        return std::all_of(corners.begin(), corners.end(),
                           [](const Point& p) { return p[2] < -1.09; });
    }));
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = request_of(projection);
        request.camera.view_from_model =
            glm::dmat3(0.8, 0.0, -0.6, 0.0, 1.0, 0.0, 0.6, 0.0, 0.8);  // tips the far side away
        request.contour_step_mm = 0.2;
        const auto a = render_of(closed, request), b = render_of(open, request);
        CHECK(same(a.coverage, b.coverage));
        CHECK(same(a.height_mm, b.height_mm));
        CHECK(same(a.normal_z, b.normal_z));
    }
}

TEST_CASE("backs are drawn: a piece that is inside out") {
    // In the hole of a ring: within its bounds, so that it may be a cavity and is not turned
    // outward.
    Triangles triangles = ring(3.2, 1.0, 60, 30);
    for (const Corners& corners : turned_inside_out(ring(1.0, 0.6, 40, 20)))
        triangles.push_back(corners);
    const auto planes = render_of(triangles, plain_request(100, 100, 10.0));
    CHECK(planes.coverage.at(50 + 10, 50) == 1.0F);
    CHECK(planes.height_mm.at(50 + 10, 50) == doctest::Approx(0.6).epsilon(0.02));
}
