// Fits of solids whose largest scale is known in closed form, in parallel projection.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "framing/blank.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

const double root2 = std::sqrt(2.0);

// A fit leaves 1e-7 of its size free (fit.hpp) and is itself exact to about 1e-9; models are
// written as floats, whose rounding of 6e-8 applies where their corners are not whole numbers.
constexpr double exact = 2e-7;

Scene medal() {  // a field of 34 mm
    Scene scene = scene_on(round_blank(38));
    scene.blank.rim_mm = 1.2;
    scene.framing.margin_mm = 0.8;
    return scene;
}

double scale_of(const Scene& scene, const Mesh& mesh) {
    return framed(scene, mesh).camera.mm_per_unit;
}

void check_scale(const Scene& scene, const Mesh& mesh, double expected) {
    const double found = scale_of(scene, mesh);
    CAPTURE(found);
    CAPTURE(expected);
    CHECK(found < expected * (1 + 6e-8));
    CHECK(found > expected * (1 - exact));
}

// The subject's middle on the blank, of its bounding box.
glm::dvec2 middle_of(const Framing& framing) {
    return 0.5 * (framing.subject.low_mm + framing.subject.high_mm);
}

Scene posed(Scene scene, double yaw_deg, double pitch_deg, double roll_deg) {
    scene.pose.yaw_deg = yaw_deg;
    scene.pose.pitch_deg = pitch_deg;
    scene.pose.roll_deg = roll_deg;
    return scene;
}

}  // namespace

TEST_CASE("a sphere fills a round field") {
    // Every pose of a sphere is a disc of its radius. The mesh's points lie on it, four of them at
    // the ends of the view's axes at yaw 0; its outline is a polygon with corners on the disc.
    const Mesh mesh = mesh_of(moved(sphere(2.5, 48), {1, -2, 3}));
    const Framing framing = framed(medal(), mesh);
    CHECK(std::abs(framing.camera.mm_per_unit * 2.5 - 17) < 17 * exact);
    CHECK(glm::length(framing.camera.picture_mm) < 3e-6 * 38);
    CHECK(glm::length(framing.subject.size_mm() - glm::dvec2(34)) < 34 * exact * 2);
    CHECK(framing.subject.near_mm == doctest::Approx(17).epsilon(exact));
    CHECK(framing.subject.far_mm == doctest::Approx(-17).epsilon(exact));
    CHECK(framing.subject.outside_field_mm == 0.0);
    CHECK(framing.warnings.empty());
    // Turned, a corner of the outline lies within half a cell's diagonal of each of its directions:
    // cells of 3.75 x 1.875 degrees, 0.0366, which misses the disc by 0.0366^2 / 2 = 6.7e-4 of it.
    // The mesh may come out larger by that, never smaller.
    const double turned = scale_of(posed(medal(), 17, 31, -8), mesh) * 2.5;
    CHECK(turned > 17 * (1 - exact));
    CHECK(turned < 17 * (1 + 6.7e-4 + exact));
}

TEST_CASE("a cube seen from in front") {
    const Mesh cube = mesh_of(box({1, 1, 1}));
    SUBCASE("round: half the diagonal is the radius") {
        check_scale(medal(), cube, 17 / root2);
    }
    SUBCASE("rectangle: the shorter side") {
        auto scene = scene_on(rectangle(60, 40, 0));
        scene.blank.rim_mm = 1.5;
        scene.framing.margin_mm = 0.5;
        check_scale(scene, cube, 18);
        CHECK(std::abs(middle_of(framed(scene, cube)).x) < 3e-6 * 60);  // as much room either side
    }
    SUBCASE("square with round corners: the corner's middle") {
        // On the diagonal the field ends at f - r + r / sqrt 2 each way, r the corner's radius less
        // the inset.
        auto scene = scene_on(rectangle(40, 40, 8));
        scene.blank.rim_mm = 2;
        check_scale(scene, cube, 18 - 6 + 6 / root2);
        scene.framing.margin_mm = 6;  // corners used up: sharp
        check_scale(scene, cube, 12);
    }
    SUBCASE("oval: the inscribed square, half a side a b / sqrt(a^2 + b^2)") {
        check_scale(scene_on(oval(50, 30)), cube, 25 * 15 / std::hypot(25.0, 15.0));
    }
    SUBCASE("tag: corners in the half-round ends") {
        // 15 - 2 = 13 mm radius about (0, +-10): s^2 + (s - 10)^2 = 13^2.
        auto scene = scene_on(tag(30, 50));
        scene.blank.rim_mm = 1.2;
        scene.framing.margin_mm = 0.8;
        check_scale(scene, cube, 0.5 * (10 + std::sqrt(2 * 169.0 - 100)));
        scene.blank = tag(50, 30);
        scene.blank.rim_mm = 1.2;
        check_scale(scene, cube, 0.5 * (10 + std::sqrt(2 * 169.0 - 100)));
        scene.blank = tag(30, 80);  // long enough for the ends not to matter
        scene.blank.rim_mm = 1.2;
        check_scale(scene, cube, 13);
    }
    SUBCASE("the whole blank, margin 0") {
        auto scene = medal();
        scene.framing.fit = Fit::blank;
        scene.framing.margin_mm = 0;
        check_scale(scene, cube, 19 / root2);
        scene.framing.margin_mm = 1;
        check_scale(scene, cube, 18 / root2);
    }
}

TEST_CASE("a cube turned") {
    const Mesh cube = mesh_of(box({1, 1, 1}));
    // About its up axis by 45 degrees: 2 sqrt 2 wide, 2 high.
    check_scale(posed(medal(), 45, 0, 0), cube, 17 / std::sqrt(3.0));
    check_scale(posed(medal(), 0, 45, 0), cube, 17 / std::sqrt(3.0));
    check_scale(posed(scene_on(rectangle(50, 40, 0)), 45, 0, 0), cube, 25 / root2);
    // In its own plane: a diamond of half diagonal sqrt 2.
    check_scale(posed(medal(), 0, 0, 45), cube, 17 / root2);
    check_scale(posed(scene_on(rectangle(50, 40, 0)), 0, 0, 45), cube, 20 / root2);
    check_scale(posed(scene_on(oval(50, 30)), 0, 0, 45), cube, 15 / root2);
    // Along its long diagonal: a hexagon with corners at sqrt(8/3).
    const double tip = glm::degrees(std::atan(1 / root2));
    check_scale(posed(medal(), 45, tip, 0), cube, 17 / std::sqrt(8.0 / 3.0));
}

TEST_CASE("a long box in a tag: the half-round ends count") {
    // Corners (s, 10 s) on the half-round about (0, 10) with radius 13: 101 s^2 - 200 s - 69 = 0.
    // In the field's bounding box alone it would be 2.3.
    const double expected = (200 + std::sqrt(200.0 * 200 + 4 * 101 * 69)) / 202;
    const Mesh mesh = mesh_of(box({1, 10, 0.5}));
    auto scene = scene_on(tag(30, 50));
    scene.blank.rim_mm = 1.2;
    scene.framing.margin_mm = 0.8;
    check_scale(scene, mesh, expected);
    CHECK(glm::length(framed(scene, mesh).camera.picture_mm) < 3e-6 * 50);
    CHECK(framed(scene, mesh).subject.outside_field_mm == 0.0);
    scene.blank = tag(50, 30);
    scene.blank.rim_mm = 1.2;
    check_scale(posed(scene, 0, 0, 90), mesh, expected);
    // In an ellipse: x^2/a^2 + y^2/b^2 = 1.
    check_scale(scene_on(oval(30, 50)), mesh, 1 / std::hypot(1 / 15.0, 10 / 25.0));
}

TEST_CASE("where the model lies and what unit it has make no difference") {
    const Solid solid = moved(box({1, 2, 3}), {0.5, -0.25, 4});
    const auto scene = posed(medal(), 25, -10, 5);
    const Framing here = framed(scene, mesh_of(solid));
    const auto check_same = [&](const Solid& other, double unit) {
        const Mesh mesh = mesh_of(other);
        const Framing there = framed(scene, mesh);
        CHECK(std::abs(there.camera.mm_per_unit * unit / here.camera.mm_per_unit - 1) < exact);
        // Six corners fix this place.
        CHECK(glm::length(middle_of(there) - middle_of(here)) < 3e-6 * 38);
        CHECK(there.subject.outside_field_mm == 0.0);
    };
    // Floats have 24 bits: a quarter lies on their grid at 1e5 and at 1e6.
    check_same(moved(solid, {1e5, -2e5, 1e6}), 1.0);
    check_same(moved(solid, {-3, 100, -50}), 1.0);
    for (const double unit : {1e-6, 1e-3, 0.0254, 1e3, 1e6}) {
        CAPTURE(unit);
        check_same(mapped(solid, [&](glm::dvec3 p) { return unit * p; }), unit);
    }
}

TEST_CASE("a plate seen edge-on is a line") {
    const Mesh mesh = mesh_of(plate({{-1, -2}, {1, -2}, {1, 2}, {-1, 2}}));
    const auto edge_on = posed(medal(), 90, 0, 0);
    check_scale(edge_on, mesh, 17.0 / 2);  // a diameter
    // Along a line across the disc: two ends at opposite points. The room beside it is a thin lens,
    // whose middle is exact to a millionth of the blank.
    CHECK(glm::length(middle_of(framed(edge_on, mesh))) < 3e-6 * 38);
    check_scale(posed(medal(), 90, 0, 90), mesh, 17.0 / 2);
    check_scale(posed(medal(), 0, 90, 0), mesh, 17.0);
    check_scale(posed(scene_on(tag(30, 50)), 90, 0, 0), mesh, 25.0 / 2);
    check_scale(posed(scene_on(oval(50, 30)), 90, 0, 0), mesh, 15.0 / 2);
}

TEST_CASE("exergue and hole are kept free") {
    const Mesh cube = mesh_of(box({1, 1, 1}));
    SUBCASE("exergue in a round field") {
        // The square stands on the line y = -10.8 + 0.8 and touches the circle with its upper
        // corners: s^2 + (2 s - 10)^2 = 17^2.
        auto scene = medal();
        scene.blank.exergue_mm = 7;
        check_scale(scene, cube, (20 + std::sqrt(400 + 5 * (289.0 - 100))) / 5);
        const Framing framing = framed(scene, cube);
        CHECK(framing.subject.low_mm.y > -10 - 1e-6);
        // A 1e-7 smaller square may move by about as much.
        CHECK(framing.subject.low_mm.y < -10 + 1e-5);
        scene.framing.fit = Fit::blank;  // the exergue belongs to the field
        check_scale(scene, cube, 18.2 / root2);
    }
    SUBCASE("hole at the top: the same, upside down") {
        auto scene = medal();
        scene.blank.hole = HoleSettings{3.0, 19 - (10 + 1.5 + 0.8)};  // lower edge less margin: 10
        check_scale(scene, cube, (20 + std::sqrt(400 + 5 * (289.0 - 100))) / 5);
        const Framing framing = framed(scene, cube);
        CHECK(framing.subject.high_mm.y < 10 + 1e-6);
        CHECK(framing.subject.high_mm.y > 10 - 1e-5);
        scene.framing.clear_hole = false;
        check_scale(scene, cube, 17 / root2);
    }
    SUBCASE("hole at the foot: above it") {
        auto scene = medal();
        scene.blank.hole = HoleSettings{3.0, 19 + (10 + 1.5 + 0.8)};
        check_scale(scene, cube, (20 + std::sqrt(400 + 5 * (289.0 - 100))) / 5);
        CHECK(framed(scene, cube).subject.low_mm.y > -10 - 1e-6);
    }
    SUBCASE("both: a strip") {
        auto scene = medal();
        scene.blank.exergue_mm = 7;
        scene.blank.hole = HoleSettings{3.0, 19 - (6 + 1.5 + 0.8)};
        check_scale(scene, cube, 8);  // from -10 to 6
        CHECK(std::abs(middle_of(framed(scene, cube)).x) < 3e-6 * 38);
    }
    SUBCASE("no room is left") {
        auto scene = medal();
        scene.blank.exergue_mm = 20;
        scene.blank.hole = HoleSettings{3.0, 17.0};
        const Error error = error_of([&] { framed(scene, cube); });
        CHECK(error.code() == ExitCode::bad_scene);
        CHECK(
            std::string(error.what()) ==
            "[framing] margin_mm: found a margin that, with rim, hole and exergue, leaves no room "
            "for a subject; expected some of the field to stay free");
    }
}

TEST_CASE("where there is room, the subject lies in the middle of it") {
    // A square of the field's width in a long tag, above an exergue: its upper corners may rise to
    // y = 25, where the half-round begins, its foot stands at -13 or above: 12 mm of room. Being
    // 1e-7 smaller it can rise into the half-round by sqrt(2 * 13 * 13e-7) = 5.8e-3 mm, and its
    // middle by half of that.
    auto scene = scene_on(tag(30, 80));
    scene.blank.rim_mm = 1.2;
    scene.blank.exergue_mm = 25;
    scene.framing.margin_mm = 0.8;
    const Framing framing = framed(scene, mesh_of(box({1, 1, 1})));
    CHECK(framing.camera.mm_per_unit == doctest::Approx(13).epsilon(exact));
    CHECK(std::abs(middle_of(framing).x) < 1e-5);
    CHECK(middle_of(framing).y > 6 - 1e-5);
    CHECK(middle_of(framing).y < 6 + 3e-3);
    // Off centre in its own box: a triangle with its tip to one side. What counts is the outline.
    const Mesh triangle = mesh_of(plate({{0, 0}, {4, 0}, {4, 1}}));
    const Framing level = framed(scene_on(rectangle(60, 40, 0)), triangle);
    CHECK(level.camera.mm_per_unit == doctest::Approx(15).epsilon(exact));
    CHECK(glm::length(middle_of(level)) < 3e-6 * 60);
}

namespace {

Solid cloud_of(Random& random) {
    const glm::dvec3 stretch(random.between(0.1, 1), random.between(0.1, 1),
                             random.between(0.1, 1));
    std::vector<glm::dvec3> points;
    const int count = random.whole(4, 60);
    points.reserve(count);
    for (int i = 0; i < count; ++i) {
        points.push_back(stretch * glm::dvec3(random.between(-9, 9), random.between(-9, 9),
                                              random.between(-9, 9)));
    }
    return fan(points);
}

struct Area {
    double inset_mm, bottom_mm, top_mm;
};

}  // namespace

TEST_CASE("random models lie inside, touch, and could not be larger") {
    Random random(21);
    auto oval_scene = scene_on(oval(60, 24));  // inset 5 > b^2/a = 4.8: a field with pointed ends
    oval_scene.blank.rim_mm = 3;
    oval_scene.framing.margin_mm = 2;
    auto tag_scene = scene_on(tag(30, 50));
    tag_scene.blank.rim_mm = 1.2;
    tag_scene.framing.margin_mm = 0.8;
    tag_scene.blank.hole = HoleSettings{3.0, 4.0};
    tag_scene.blank.exergue_mm = 7;
    const std::vector<std::pair<Scene, Area>> scenes{
        {medal(), {2, -17, 17}},
        {oval_scene, {5, -7, 7}},
        {tag_scene, {2, -25 + 1.2 + 7 + 0.8, 25 - 4 - 1.5 - 0.8}},
        {scene_on(rectangle(50, 30, 10)), {0, -15, 15}},
    };
    for (const auto& [plain, place] : scenes) {
        const Area& area = place;  // C++20 before clang 16: lambdas cannot take bindings
        const BlankGeometry blank(plain.blank);
        for (int round = 0; round < 4; ++round) {
            const auto scene = posed(plain, random.between(-180, 180), random.between(-90, 90),
                                     random.between(-180, 180));
            const Mesh mesh = mesh_of(cloud_of(random));
            const Framing framing = framed(scene, mesh);
            const auto outside = [&](glm::dvec2 p) {
                return std::max({blank.outline_distance_mm(p) + area.inset_mm, p.y - area.top_mm,
                                 area.bottom_mm - p.y});
            };
            const auto on_blank = places(framing.camera, mesh);
            double most = std::numeric_limits<double>::lowest();
            for (const auto& p : on_blank) most = std::max(most, outside(p));
            CHECK(most < 1e-6);
            CHECK(std::count_if(on_blank.begin(), on_blank.end(),
                                [&](glm::dvec2 p) { return outside(p) > -1e-5; }) >= 2);
            int fitting = 0;
            for (int i = 0; i < 2000; ++i) {
                const glm::dvec2 shift = random.in_square(std::pow(10.0, random.between(-5, 1)));
                fitting += std::all_of(on_blank.begin(), on_blank.end(), [&](glm::dvec2 p) {
                    return outside((1 + 1e-4) * (p - framing.camera.picture_mm) +
                                   framing.camera.picture_mm + shift) <= 0;
                });
            }
            CHECK(fitting == 0);
            CHECK(framing.subject.outside_image_mm < 1e-6);
        }
    }
}

TEST_CASE("a mirrored or turned model has a mirrored or turned fit") {
    Random random(22);
    const Solid solid = fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 4}, {2, -1, 3}});
    const auto mirror = [](glm::dvec3 p) { return glm::dvec3(-p.x, p.y, p.z); };
    const Mesh mesh = mesh_of(solid);
    const Mesh mirrored = mesh_of(mapped(solid, mirror));
    for (const auto& scene : {medal(), scene_on(tag(30, 50)), scene_on(oval(50, 30))}) {
        // Seen in a mirror, turns about up and about the view's axis run the other way.
        const Framing a = framed(posed(scene, 20, 15, 40), mesh);
        const Framing b = framed(posed(scene, -20, 15, -40), mirrored);
        CHECK(std::abs(b.camera.mm_per_unit / a.camera.mm_per_unit - 1) < 1e-8);
        // Three corners touch: the place is fixed.
        CHECK(std::abs(b.camera.picture_mm.x + a.camera.picture_mm.x) < 3e-6 * 50);
        CHECK(std::abs(b.camera.picture_mm.y - a.camera.picture_mm.y) < 3e-6 * 50);
        CHECK(glm::length(a.camera.picture_mm) > 0.1);  // it has something to mirror
    }
    for (const double roll : {90.0, 180.0, 33.0}) {  // a disc looks the same turned
        const Framing a = framed(posed(medal(), 20, 15, 0), mesh);
        const Framing b = framed(posed(medal(), 20, 15, roll), mesh);
        CHECK(std::abs(b.camera.mm_per_unit / a.camera.mm_per_unit - 1) < 1e-8);
        const double c = std::cos(glm::radians(roll));
        const double s = std::sin(glm::radians(roll));
        const glm::dvec2 p = a.camera.picture_mm;
        const glm::dvec2 turned(c * p.x - s * p.y, s * p.x + c * p.y);
        CHECK(glm::length(b.camera.picture_mm - turned) < 3e-6 * 38);
    }
}

TEST_CASE("shift and zoom come after the fit") {
    const Mesh mesh = mesh_of(fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 4}}));
    auto scene = medal();
    scene.blank.exergue_mm = 7;
    const Camera plain = framed(scene, mesh).camera;
    scene.framing.shift_mm = {-1.25, 2.5};
    const Camera shifted = framed(scene, mesh).camera;
    CHECK(shifted.mm_per_unit == plain.mm_per_unit);
    CHECK(glm::length(shifted.picture_mm - plain.picture_mm - glm::dvec2(-1.25, 2.5)) < 1e-14);
    // About the middle of what it fits: between -10 (exergue line and margin) and 17.
    scene.framing.zoom = 0.75;
    const Camera zoomed = framed(scene, mesh).camera;
    const glm::dvec2 middle(0, 3.5);
    const auto before = places(plain, mesh);
    const auto after = places(zoomed, mesh);
    for (std::size_t i = 0; i < before.size(); ++i) {
        const glm::dvec2 expected = middle + 0.75 * (before[i] - middle) + scene.framing.shift_mm;
        CHECK(glm::length(after[i] - expected) < 1e-12);
    }
}

TEST_CASE("fit = none: the scene's own size, in the blank's middle") {
    auto scene = medal();
    scene.framing.fit = Fit::none;
    scene.framing.mm_per_unit = 0.5;
    scene.framing.shift_mm = {3, -2};
    const Mesh mesh = mesh_of(moved(box({4, 5, 6}), {100, 0, 0}));
    for (const bool crowded : {false, true}) {  // hole, exergue and margin are nothing to it
        if (crowded) scene.blank.exergue_mm = 7;
        if (crowded) scene.blank.hole = HoleSettings{3.0, 5.0};
        const Framing framing = framed(scene, mesh);
        CHECK(framing.camera.mm_per_unit == 0.5);
        CHECK(framing.camera.picture_mm == glm::dvec2(3, -2));
        CHECK(framing.camera.centre_model == glm::dvec3(100, 0, 0));
        CHECK(framing.subject.size_mm() == glm::dvec2(4, 5));
        CHECK(framing.subject.near_mm == 3.0);
        CHECK(framing.subject.far_mm == -3.0);
    }
    scene.framing.zoom = 2;
    CHECK(framed(scene, mesh).camera.mm_per_unit == 1.0);
    scene.framing.mm_per_unit.reset();
    const Error error = error_of([&] { framed(scene, mesh); });
    CHECK(error.code() == ExitCode::bad_scene);
    CHECK(contains(error.what(), "[framing] fit: found \"none\" without mm_per_unit"));
}

TEST_CASE("points that belong to no triangle in use do not count") {
    Solid solid = box({1, 1, 1});
    solid.points.emplace_back(50, 60, 70);
    check_scale(medal(), mesh_of(solid), 17 / root2);
    // Triangles of 1 x 1 at x = 0, 2 and 4: the middle one alone is a right triangle of hypotenuse
    // sqrt 2, about (2.5, 0.5).
    const Mesh parts = mesh_of_parts({"left", "middle", "right"});
    auto scene = medal();
    scene.model.use = {"middle"};
    check_scale(scene, parts, 17 / (0.5 * root2));
    CHECK(framed(scene, parts).camera.centre_model == glm::dvec3(2.5, 0.5, 0));
}
