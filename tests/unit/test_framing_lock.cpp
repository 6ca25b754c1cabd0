// Locked cameras, and what a framing says of the subject on the blank.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

Scene medal() {
    Scene scene = scene_on(round_blank(38));
    scene.blank.rim_mm = 1.2;
    scene.framing.margin_mm = 0.8;
    scene.pose.yaw_deg = 25;
    scene.pose.pitch_deg = -10;
    return scene;
}

Scene fixed_size(double mm_per_unit) {
    Scene scene = scene_on(round_blank(38));
    scene.blank.rim_mm = 1.2;
    scene.framing.fit = Fit::none;
    scene.framing.mm_per_unit = mm_per_unit;
    return scene;
}

void check_same(const Camera& a, const Camera& b) {
    CHECK(a.projection == b.projection);
    CHECK(a.view_from_model == b.view_from_model);
    CHECK(a.centre_model == b.centre_model);
    CHECK(a.mm_per_unit == b.mm_per_unit);
    CHECK(a.picture_mm == b.picture_mm);
    CHECK(a.eye_mm == b.eye_mm);
}

bool warned(const Framing& framing, const std::string& part) {
    return std::any_of(framing.warnings.begin(), framing.warnings.end(),
                       [&](const std::string& warning) { return contains(warning, part); });
}

const std::string edited = "were edited after the camera was locked; the locked camera is kept";
const std::string replaced = "the model's file is not the one the camera was locked on";

}  // namespace

TEST_CASE("a locked camera comes back bit for bit") {
    const Mesh mesh = mesh_of(fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 9}}));
    for (const auto projection : {Projection::parallel, Projection::perspective}) {
        auto scene = medal();
        scene.pose.projection = projection;
        scene.framing.zoom = 1.1;
        scene.framing.shift_mm = {0.3, -0.7};
        const Framing free = framed(scene, mesh);
        CHECK_FALSE(free.locked);
        scene.locked = locked_camera(scene, mesh, free.camera);
        CHECK(scene.locked->model_hash == mesh.hash());
        CHECK(scene.locked->settings_hash == settings_hash(scene));
        const Framing locked = framed(scene, mesh);
        CHECK(locked.locked);
        check_same(locked.camera, free.camera);
        CHECK(locked.warnings == free.warnings);
        CHECK(locked.subject.low_mm == free.subject.low_mm);
        CHECK(locked.subject.near_mm == free.subject.near_mm);
    }
}

TEST_CASE("what a lock does not notice, warns of, and never moves with") {
    const Mesh mesh = mesh_of(box({1, 2, 3}));
    auto scene = medal();
    const Camera camera = framed(scene, mesh).camera;
    scene.locked = locked_camera(scene, mesh, camera);

    SUBCASE("the resolution changes the pixels alone") {
        scene.image.px_per_mm = 10;
        const Framing framing = framed(scene, mesh);
        check_same(framing.camera, camera);
        CHECK(framing.grid.width == 380);
        CHECK(framing.warnings.empty());
        scene.locked.reset();  // nor does it without a lock
        scene.image.px_per_mm = 55;
        check_same(framed(scene, mesh).camera, camera);
    }
    SUBCASE("another model: kept, and said") {
        scene.model.file_as_written = "models/shell.ply";
        const Framing framing = framed(scene, mesh_of(box({1.5, 2, 3})));
        check_same(framing.camera, camera);
        REQUIRE(framing.warnings.size() >= 1);
        CHECK(framing.warnings[0] ==
              replaced + " (models/shell.ply was replaced or edited); the locked camera is kept");
        CHECK_FALSE(warned(framing, edited));
    }
    SUBCASE("another pose: kept, and said") {
        scene.pose.yaw_deg += 1;
        const Framing framing = framed(scene, mesh);
        check_same(framing.camera, camera);
        REQUIRE(framing.warnings.size() == 1);
        CHECK(contains(framing.warnings[0], edited));
    }
    SUBCASE("another blank, framing or axis: kept, and said") {
        auto other = scene;
        other.blank.rim_mm = 1.3;
        CHECK(warned(framed(other, mesh), edited));
        other = scene;
        other.framing.margin_mm = 0.9;
        CHECK(warned(framed(other, mesh), edited));
        other = scene;
        other.model.up = Axis::plus_z;
        CHECK(warned(framed(other, mesh), edited));
        check_same(framed(other, mesh).camera, camera);
    }
    SUBCASE("a pass is no part of it") {
        scene.passes.curvature = CurvaturePass{};
        CHECK(framed(scene, mesh).warnings.empty());
    }
}

TEST_CASE("how far a subject reaches over") {
    // A cube of 40 mm in front of a medal of 38 mm: its corners lie at 20 sqrt 2 = 28.284 mm, its
    // sides 20 mm from the middle; the field ends at 17.8 mm, the picture at 19 mm.
    const Mesh cube = mesh_of(box({1, 1, 1}));
    const Framing framing = framed(fixed_size(20), cube);
    CHECK(std::abs(framing.subject.outside_field_mm - (20 * std::sqrt(2.0) - 17.8)) < 1e-12);
    CHECK(std::abs(framing.subject.outside_image_mm - 1.0) < 1e-12);
    CHECK(framing.warnings ==
          std::vector<std::string>{
              "the subject reaches 10.484 mm over the edge of the field",
              "the subject reaches 1.000 mm over the edge of the picture and is cut there"});
    auto field = fixed_size(20);
    field.image.covers = Covers::field;
    CHECK(std::abs(framed(field, cube).subject.outside_image_mm - 2.2) < 1e-12);
    auto shifted = fixed_size(10);
    shifted.framing.shift_mm = {0, -11.5};  // the foot at y = -21.5
    CHECK(std::abs(framed(shifted, cube).subject.outside_image_mm - 2.5) < 1e-12);
    CHECK(framed(shifted, cube).subject.low_mm == glm::dvec2(-10, -21.5));
    CHECK(framed(shifted, cube).subject.high_mm == glm::dvec2(10, -1.5));

    const Framing inside = framed(fixed_size(10), cube);
    CHECK(inside.subject.outside_field_mm == 0.0);
    CHECK(inside.subject.outside_image_mm == 0.0);
    CHECK(inside.warnings.empty());
    CHECK(framed(fixed_size(12.5862), cube).warnings.empty());  // 17.7996 mm
    CHECK(warned(framed(fixed_size(12.5872), cube), "0.001 mm over the edge of the field"));
}

TEST_CASE("a subject fitted to the whole blank may lie on the rim") {
    const Mesh cube = mesh_of(box({1, 1, 1}));
    auto scene = medal();
    scene.framing.fit = Fit::blank;
    scene.framing.margin_mm = 0;
    const Framing framing = framed(scene, cube);
    CHECK(framing.subject.outside_field_mm == doctest::Approx(1.2).epsilon(1e-5));
    CHECK(framing.warnings.empty());
    scene.framing.zoom = 1.5;  // 19 * 1.5 = 28.5 mm
    CHECK(warned(framed(scene, cube), "the subject reaches 9.500 mm over the edge of the blank"));
}

TEST_CASE("a subject outside of the picture") {
    const Mesh cube = mesh_of(box({1, 1, 1}));
    auto scene = fixed_size(5);
    for (const glm::dvec2 away :
         {glm::dvec2(24.1, 0), {-24.1, 0}, {0, 24.1}, {0, -24.1}, {300, 0}}) {
        scene.framing.shift_mm = away;
        const Error error = error_of([&] { framed(scene, cube); });
        CHECK(error.code() == ExitCode::unusable_picture);
        CHECK(std::string(error.what()) ==
              "nothing is in the picture: the subject lies wholly outside it; expected some of it "
              "inside: check [framing] shift_mm and zoom");
        scene.framing.shift_mm = away * (23.9 / glm::length(away));  // an edge is still inside
        CHECK_NOTHROW(framed(scene, cube));
    }
}

TEST_CASE("a picture of no pixels") {
    auto scene = medal();
    scene.image.px_per_mm = 0.01;
    const Mesh mesh = mesh_of(box({1, 1, 1}));
    CHECK(error_of([&] { framed(scene, mesh); }).code() == ExitCode::bad_scene);
}
