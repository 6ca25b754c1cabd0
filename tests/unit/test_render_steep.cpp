// Steep walls and steps, against closed forms.

#include <doctest/doctest.h>

#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

constexpr double pi = std::numbers::pi;

// The slope of a wall of so much draft.
double slope_of_draft(double deg) {
    return 1.0 / std::tan(deg * pi / 180.0);
}

RenderRequest steep_request(int side, double px_per_mm, double draft_deg) {
    RenderRequest request;
    request.grid = {side, side, px_per_mm, -0.5 * side / px_per_mm, 0.5 * side / px_per_mm};
    request.steep_slope = slope_of_draft(draft_deg);
    return request;
}

// A surface of revolution around the view axis: height over the radius, rings apart evenly in t.
template <typename Profile>
Triangles turned(const Profile& profile, int rings, int around) {
    const auto at = [&](int ring, int i) {
        const auto [r, z] = profile(static_cast<double>(ring) / rings);
        const double angle = 2.0 * pi * (i % around) / around;
        return Point{r * std::cos(angle), r * std::sin(angle), z};
    };
    Triangles triangles;
    for (int ring = 0; ring < rings; ++ring) {
        for (int i = 0; i < around; ++i) {
            if (ring > 0) triangles.push_back({at(ring, i), at(ring + 1, i), at(ring, i + 1)});
            triangles.push_back({at(ring, i + 1), at(ring + 1, i), at(ring + 1, i + 1)});
        }
    }
    return triangles;
}

struct RadiusHeight {
    double r, z;
};

}  // namespace

TEST_CASE("steep: of a hemisphere, the area outside the radius where its walls become too steep") {
    // A wall at the polar angle t leans t from level, so that its draft is 90 degrees - t: less
    // than d beyond the radius R cos(d), in the share sin(d)^2 of the disc.
    constexpr double radius = 4.0;
    constexpr int rings = 90;
    const auto dome = turned(
        [&](double t) {
            return RadiusHeight{radius * std::sin(0.5 * pi * t), radius * std::cos(0.5 * pi * t)};
        },
        rings, 720);
    for (const double draft_deg : {10.5, 30.5, 60.5}) {  // amid a ring, whose slope is its chord's
        CAPTURE(draft_deg);
        const auto planes = render_of(dome, steep_request(340, 40.0, draft_deg));
        const double expected = std::pow(std::sin(draft_deg * pi / 180.0), 2);
        const double found = sum(planes.steep.share) / sum(planes.coverage);
        // A ring of flat triangles, 1 degree wide, is steep as a whole or not: the border lies at
        // its edge, half a degree off by the choice of drafts: sin^2 changes by sin(2 d) for it.
        const double ring = std::sin(2.0 * draft_deg * pi / 180.0) * 0.5 * pi / 180.0;
        CHECK(std::fabs(found - expected) < ring + 0.001);
        CHECK(sum(planes.steep.walls) == doctest::Approx(sum(planes.steep.share)));  // no step
        CHECK(spread(planes.steep.step_mm) < 0.02);
        // The outermost ring's chord leans half a degree.
        CHECK(std::atan(1.0 / spread(planes.steep.slope)) * 180.0 / pi ==
              doctest::Approx(0.5).epsilon(0.01));
    }
}

TEST_CASE("steep: a cone is all or nothing, on either side of its draft") {
    // Half its opening is the draft of its wall: tan = r / h.
    const double draft_deg = std::atan(3.0 / 8.0) * 180.0 / pi;
    const auto cone = turned(
        [](double t) {
            return RadiusHeight{3.0 * t, 8.0 * (1.0 - t)};
        },
        1, 720);
    for (const int samples : {1, 2, 4}) {
        CAPTURE(samples);
        RenderRequest request = steep_request(70, 10.0, draft_deg - 0.1);
        request.samples = samples;
        CHECK(sum(render_of(cone, request).steep.share) == 0.0);
        request.steep_slope = slope_of_draft(draft_deg + 0.1);
        const auto planes = render_of(cone, request);
        CHECK(planes.steep.share.values == planes.coverage.values);
        CHECK(planes.steep.walls.values == planes.coverage.values);
    }
}

TEST_CASE("steep: in perspective the slope is that of depth over the picture") {
    // The plane z = s y. From an eye at E, the picture's Y = y E / (E - z) gives z = s y with
    // y = Y / (1 + s Y / E), so that dz/dY = s / (1 + s Y / E)^2.
    constexpr double eye = 20.0;
    constexpr double s = 3.0;
    Triangles plane;
    add_quad(plane, {-9, -9, -9 * s}, {9, -9, -9 * s}, {9, 4, 4 * s}, {-9, 4, 4 * s});
    RenderRequest request = steep_request(100, 25.0, 20.0);
    request.camera.projection = Projection::perspective;
    request.camera.eye_mm = eye;
    const auto planes = render_of(plane, request);
    for (int y = 2; y < 98; ++y) {
        const double from_axis = request.grid.centre_of(50, y).y;
        // The largest of a pixel's samples: up to half a pixel below its middle.
        const double slope = s / std::pow(1.0 + s * (from_axis - 0.015) / eye, 2);
        CHECK(planes.steep.slope.at(50, y) == doctest::Approx(slope).epsilon(1e-3));
        // Beyond the samples of a pixel on either side it is steep or it is not.
        const double limit = slope_of_draft(20.0);
        if (slope > 1.01 * limit) CHECK(planes.steep.share.at(50, y) == 1.0F);
        if (slope < limit) CHECK(planes.steep.share.at(50, y) == 0.0F);
    }
    CHECK(spread(planes.steep.share) == 1.0F);
}

TEST_CASE("steep: a step is a line one pixel wide, when it is higher than a wall's pixel") {
    // Of 10 degrees a wall rises 5.67 px, 0.567 mm, over a pixel of 0.1 mm.
    const auto stairs = [](double height, double x) {
        Triangles two;
        add_quad(two, {-9, -9, 0}, {9, -9, 0}, {9, 9, 0}, {-9, 9, 0});
        add_quad(two, {x, -9, height}, {9, -9, height}, {9, 9, height}, {x, 9, height});
        return two;
    };
    for (const int samples : {2, 4, 8}) {
        CAPTURE(samples);
        RenderRequest request = steep_request(40, 10.0, 10.0);
        request.samples = samples;
        CHECK(sum(render_of(stairs(0.56, 0.31), request).steep.share) == 0.0);
        const auto planes = render_of(stairs(0.58, 0.31), request);
        // The line's middle lies at the step, or at the nearest place between two samples.
        double wide_px = 0.0;
        for (int x = 0; x < 40; ++x) wide_px += planes.steep.share.at(x, 20);
        CHECK(wide_px == doctest::Approx(1.0));
        CHECK(planes.steep.share.at(20, 20) == 0.0F);
        CHECK(planes.steep.share.at(22, 20) + planes.steep.share.at(23, 20) > 0.9F);
        CHECK(sum(planes.steep.walls) == 0.0);
        CHECK(spread(planes.steep.step_mm) == doctest::Approx(0.58).epsilon(1e-4));
    }
}

TEST_CASE(
    "steep: the outline is none, and a wedge beside its draft is not made steep by its edge") {
    // A roof with its ridge along y, whose sides lean by 20 degrees from upright.
    const double slope = slope_of_draft(20.0);
    Triangles wedge;
    add_quad(wedge, {-1, -1.5, -slope}, {0, -1.5, 0}, {0, 1.5, 0}, {-1, 1.5, -slope});
    add_quad(wedge, {0, -1.5, 0}, {1, -1.5, -slope}, {1, 1.5, -slope}, {0, 1.5, 0});
    CHECK(sum(render_of(wedge, steep_request(60, 13.0, 19.9)).steep.share) == 0.0);
    const auto planes = render_of(wedge, steep_request(60, 13.0, 20.1));
    CHECK(planes.steep.share.values == planes.coverage.values);
}

TEST_CASE("steep does not depend on strips") {
    const Mesh mesh = load_ball();
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = request_of(projection);
        request.camera.view_from_model = glm::dmat3(0.8, 0, -0.6, 0, 1, 0, 0.6, 0, 0.8);
        request.occlusion_reach_mm.reset();
        request.steep_slope = slope_of_draft(15.0);
        ProcessorRenderer at_once(std::int64_t{1} << 30);
        ProcessorRenderer in_strips(1);
        at_once.set_mesh(mesh, all_parts(mesh));
        in_strips.set_mesh(mesh, all_parts(mesh));
        auto expected = whole(at_once, request);
        auto planes = whole(in_strips, request);
        for (std::size_t i = 0; i < planes.steep.all().size(); ++i) {
            CHECK(planes.steep.all()[i]->values == expected.steep.all()[i]->values);
            CHECK(spread(*planes.steep.all()[i]) > 0.3);
        }
    }
}
