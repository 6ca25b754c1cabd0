// Perspective: closed forms of the picture, and fits that touch.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "framing/blank.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

constexpr double pi = std::numbers::pi;

Scene seen_under(const BlankSettings& blank, double view_deg) {
    Scene scene = scene_on(blank);
    scene.pose.projection = Projection::perspective;
    scene.pose.view_deg = view_deg;
    return scene;
}

Scene posed(Scene scene, double yaw_deg, double pitch_deg, double roll_deg) {
    scene.pose.yaw_deg = yaw_deg;
    scene.pose.pitch_deg = pitch_deg;
    scene.pose.roll_deg = roll_deg;
    return scene;
}

// Inside by distance, and touching with two points or more. A fit leaves 1e-7 of its size free:
// 2e-6 mm of a radius of 19 mm.
void check_touches(const Scene& scene, const Mesh& mesh, double inset_mm) {
    const BlankGeometry blank(scene.blank);
    const Framing framing = framed(scene, mesh);
    const Camera& camera = framing.camera;
    CHECK(camera.eye_mm > 0.0);
    CHECK(std::isfinite(camera.mm_per_unit));
    CHECK(framing.subject.near_mm < 0.981 * camera.eye_mm);
    int touching = 0;
    double most = std::numeric_limits<double>::lowest();
    for (const auto& p : places(camera, mesh)) {
        const double mm = blank.outline_distance_mm(p) + inset_mm;
        most = std::max(most, mm);
        touching += mm > -1e-5 ? 1 : 0;
    }
    CAPTURE(most);
    CHECK(most < 1e-6);
    CHECK(touching >= 2);
}

// Right angles at one corner: its box's middle lies outside of it.
Solid corner_tetrahedron() {
    return {{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
            {{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}};
}

}  // namespace

TEST_CASE("the eye's distance: the longer side is seen under view_deg") {
    const Mesh mesh = mesh_of(box({1, 1, 1}));
    for (const double view_deg : {1.0, 30.0, 53.13010235415598, 90.0, 120.0}) {
        auto scene = seen_under(tag(30, 50), view_deg);
        const double eye_mm = framed(scene, mesh).camera.eye_mm;
        // The angle between the rays to the two ends of the longer side.
        CHECK(2 * std::atan2(25, eye_mm) == doctest::Approx(glm::radians(view_deg)).epsilon(1e-14));
        scene.blank = tag(50, 30);
        CHECK(framed(scene, mesh).camera.eye_mm == eye_mm);
    }
    CHECK(framed(seen_under(round_blank(38), 90), mesh).camera.eye_mm ==
          doctest::Approx(19).epsilon(1e-14));
    CHECK(framed(scene_on(round_blank(38)), mesh).camera.eye_mm == 0.0);
}

TEST_CASE("the outline of a sphere") {
    // A cone of rays touches a sphere of radius r at distance d under the sine r/d: in the plane
    // through its middle it shows the radius d tan = d r / sqrt(d^2 - r^2). The mesh has rings
    // every 1.5 degrees; near its largest the picture of a ring at latitude p falls off by
    // (p - best)^2 / 2 * d^2 / (d^2 - r^2), with p at most half a step away: 8.6e-5 * 1.2.
    constexpr int rings = 120;
    const double half_step = 0.5 * pi / rings;
    const Mesh mesh = mesh_of(sphere(1.0, rings));
    for (const double radius : {2.0, 10.0, 18.0}) {
        for (const double view_deg : {20.0, 50.0}) {
            auto scene = seen_under(round_blank(38), view_deg);
            scene.framing.fit = Fit::none;
            scene.framing.mm_per_unit = radius;
            const Framing framing = framed(scene, mesh);
            const double d = framing.camera.eye_mm;
            const double expected = d * radius / std::sqrt(d * d - radius * radius);
            const double share = d * d / (d * d - radius * radius);
            const double fall = 0.5 * half_step * half_step * share;
            const glm::dvec2 found = 0.5 * framing.subject.size_mm();
            CAPTURE(expected);
            for (const double r : {found.x, found.y}) {
                CHECK(r < expected * (1 + 1e-7));  // float corners
                CHECK(r > expected * (1 - 1.1 * fall - 1e-7));
            }
            CHECK(expected - radius > 2 * expected * fall);  // it is not the parallel outline
            CHECK(framing.subject.near_mm == doctest::Approx(radius).epsilon(1e-7));
        }
    }
}

TEST_CASE("a cube in perspective in closed form") {
    // The front face, half a side u, lies u before the plane through the middle: its corners show
    // at sqrt 2 u d / (d - u) = R, so that u = R d / (sqrt 2 d + R).
    const Mesh mesh = mesh_of(box({1, 1, 1}));
    for (const double view_deg : {1.0, 30.0, 90.0, 120.0}) {
        auto scene = seen_under(round_blank(38), view_deg);
        scene.blank.rim_mm = 1.2;
        scene.framing.margin_mm = 0.8;
        const Camera camera = framed(scene, mesh).camera;
        const double d = 19 / std::tan(glm::radians(0.5 * view_deg));
        const double expected = 17 * d / (std::sqrt(2.0) * d + 17);
        CHECK(std::abs(camera.mm_per_unit / expected - 1) < 2e-7);
        CHECK(glm::length(camera.picture_mm) < 3e-6 * 38);
        check_touches(scene, mesh, 2.0);
    }
}

TEST_CASE("a sphere's fit in perspective") {
    // R = d u / sqrt(d^2 - u^2), as above: u = R d / sqrt(d^2 + R^2). The mesh's outline lies
    // within half a step of 3.75 degrees of the sphere's both ways, so that it may come out larger
    // by (half a step)^2 / 2, times d^2 / (d^2 - u^2) along the meridian.
    const Mesh mesh = mesh_of(sphere(1.0, 48));
    const double half_step = 0.5 * pi / 48;
    for (const double view_deg : {30.0, 100.0}) {
        for (const double pitch_deg : {0.0, 57.0}) {
            const auto scene = posed(seen_under(round_blank(38), view_deg), 10, pitch_deg, 0);
            const Camera camera = framed(scene, mesh).camera;
            const double d = camera.eye_mm;
            const double expected = 19 * d / std::hypot(d, 19.0);
            const double share = d * d / (d * d - expected * expected);
            CHECK(camera.mm_per_unit > expected * (1 - 2e-7));
            CHECK(camera.mm_per_unit < expected * (1 + 0.5 * half_step * half_step * (1 + share)));
            check_touches(scene, mesh, 0.0);  // the corners of the last outline, not of the first
        }
    }
}

TEST_CASE("fits touch, whatever the model, the pose and the angle") {
    Random random(31);
    std::vector<Mesh> meshes{
        mesh_of(box({1, 1, 1})), mesh_of(moved(box({1, 5, 0.2}), {70, 0, 1e4})),
        mesh_of(corner_tetrahedron()), mesh_of(plate({{0, 0}, {3, 0}, {3, 2}, {1, 4}}))};
    std::vector<glm::dvec3> points;
    points.reserve(40);
    for (int i = 0; i < 40; ++i) {
        points.emplace_back(random.between(-1, 1), random.between(-2, 2), random.between(0, 1));
    }
    meshes.push_back(mesh_of(mapped(fan(points), [](glm::dvec3 p) { return 1e-4 * p; })));
    for (const auto& mesh : meshes) {
        for (const double view_deg : {1.0, 30.0, 120.0}) {
            CAPTURE(view_deg);
            for (const auto& blank : {round_blank(38), tag(30, 50), oval(60, 20)}) {
                auto scene = seen_under(blank, view_deg);
                scene.blank.rim_mm = 3.0;
                scene.framing.margin_mm = 0.5;
                check_touches(scene, mesh, 3.5);
                check_touches(posed(scene, random.between(-180, 180), random.between(-90, 90), 25),
                              mesh, 3.5);
            }
        }
    }
}

TEST_CASE("a plate seen from in front has no perspective") {
    // All of it lies in the plane through the middle, which is shown at its own size.
    const Mesh mesh = mesh_of(plate({{0, 0}, {3, 0}, {3, 2}, {1, 4}}));
    const Camera flat = framed(scene_on(round_blank(38)), mesh).camera;
    for (const double view_deg : {1.0, 120.0}) {
        const Camera camera = framed(seen_under(round_blank(38), view_deg), mesh).camera;
        CHECK(std::abs(camera.mm_per_unit / flat.mm_per_unit - 1) < 1e-7);
        CHECK(glm::length(camera.picture_mm - flat.picture_mm) < 3e-6 * 38);
    }
}

TEST_CASE("a subject all of which lies behind the plane through its middle") {
    // Seen against its long face a corner tetrahedron lies 0.5 / sqrt 3 and more behind its box's
    // middle. The face's corners make a circle of sqrt(2/3) at depth t = 0.5 / sqrt 3: R = u sqrt
    // (2/3) d / (d + t u).
    const Mesh mesh = mesh_of(corner_tetrahedron());
    const double d = 19 / std::tan(glm::radians(15.0));
    const double c = std::sqrt(2.0 / 3.0);
    const double t = 0.5 / std::sqrt(3.0);
    const auto scene =
        posed(seen_under(round_blank(38), 30), -45, glm::degrees(std::atan(std::sqrt(0.5))), 0);
    const Framing framing = framed(scene, mesh);
    CHECK(framing.subject.near_mm < 0.0);
    CHECK(std::abs(framing.camera.mm_per_unit / (19 * d / (c * d - 19 * t)) - 1) < 3e-7);
    check_touches(scene, mesh, 0.0);
}

TEST_CASE("a needle towards the eye stops short of it, in the middle of the room") {
    // 1000 long, a triangle of 2 x 1 across: at 0.98 of the eye's distance its tip is magnified 50
    // times and still smaller than the blank. The outline's box lies in the blank's middle.
    const Mesh mesh = mesh_of(mapped(
        box({1, 0.5, 500}), [](glm::dvec3 p) { return p.x < 0 ? glm::dvec3(-1, 0.1, p.z) : p; }));
    const Framing framing = framed(seen_under(rectangle(40, 30, 0), 30), mesh);
    CHECK(framing.subject.near_mm == doctest::Approx(0.98 * framing.camera.eye_mm).epsilon(1e-9));
    const glm::dvec2 middle = 0.5 * (framing.subject.low_mm + framing.subject.high_mm);
    CHECK(framing.subject.size_mm().x > 1.0);
    CHECK(framing.subject.size_mm().x < 39.0);
    CHECK(glm::length(middle) < 3e-6 * 40);
}

TEST_CASE("zoom scales the picture about the middle, shift moves it, perspective stays") {
    const Mesh mesh = mesh_of(fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 9}, {2, 2, 2}}));
    auto scene = posed(seen_under(round_blank(38), 40), 20, -10, 5);
    scene.blank.exergue_mm = 8;
    const Camera plain = framed(scene, mesh).camera;
    scene.framing.zoom = 0.6;
    const Camera zoomed = framed(scene, mesh).camera;
    scene.framing.shift_mm = {2.25, -3.5};
    const Camera shifted = framed(scene, mesh).camera;
    const glm::dvec2 middle(0, 0.5 * (19 + -19 + 8));  // of the field above the exergue
    const auto before = places(plain, mesh);
    const auto after = places(zoomed, mesh);
    const auto moved_places = places(shifted, mesh);
    for (std::size_t i = 0; i < before.size(); ++i) {
        CHECK(glm::length(after[i] - (middle + 0.6 * (before[i] - middle))) < 1e-12);
        CHECK(glm::length(moved_places[i] - after[i] - scene.framing.shift_mm) < 1e-12);
        for (std::size_t j = 0; j < i; ++j) {
            const double was = glm::length(before[i] - before[j]);
            CHECK(std::abs(glm::length(after[i] - after[j]) - 0.6 * was) < 1e-12);
        }
    }
    // Depth scales with the picture: a zoomed relief is the same solid, enlarged.
    CHECK(zoomed.mm_per_unit / plain.mm_per_unit == doctest::Approx(0.6).epsilon(1e-14));
}

TEST_CASE("a smaller and smaller angle comes to parallel rays") {
    // Perspective differs from parallel by the share depth / eye of a place, 19 mm each at most, so
    // that scale and place differ by no more than twice that.
    const Mesh mesh = mesh_of(fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 9}, {2, 2, 2}}));
    const auto flat = posed(scene_on(round_blank(38)), 20, -10, 5);
    const auto expected = places(framed(flat, mesh).camera, mesh);
    double before = 1e9;
    for (const double view_deg : {10.0, 1.0, 0.1, 0.01}) {
        const Camera camera =
            framed(posed(seen_under(round_blank(38), view_deg), 20, -10, 5), mesh).camera;
        const auto found = places(camera, mesh);
        double most = 0.0;
        for (std::size_t i = 0; i < found.size(); ++i) {
            most = std::max(most, glm::length(found[i] - expected[i]));
        }
        CHECK(most < 2 * 19 * 19 / camera.eye_mm + 1e-5);
        CHECK(most < before);
        before = most;
    }
    CHECK(before < 0.01);
}

TEST_CASE("a subject that reaches the eye") {
    auto scene = seen_under(round_blank(38), 90);  // the eye 19 mm away
    scene.framing.fit = Fit::none;
    const Mesh mesh = mesh_of(box({1, 1, 20}));
    scene.framing.mm_per_unit = 0.9;
    CHECK(framed(scene, mesh).subject.near_mm == doctest::Approx(18));
    for (const double size : {0.95, 1.5, 10.0}) {
        scene.framing.mm_per_unit = size;
        const Error error = error_of([&] { framed(scene, mesh); });
        CHECK(error.code() == ExitCode::unusable_picture);
        CHECK(contains(error.what(),
                       "the subject reaches the camera's eye; expected all of it in "
                       "front: use a smaller view_deg, zoom or mm_per_unit"));
    }
}
