// From a model's axes to the viewer's, and parts by the patterns of their names.

#include <doctest/doctest.h>

#include <chrono>
#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

const glm::dvec3 right(1, 0, 0);
const glm::dvec3 up(0, 1, 0);
const glm::dvec3 to_viewer(0, 0, 1);

struct Convention {
    Axis top, front;
};

std::vector<Convention> conventions() {
    std::vector<Convention> all;
    for (int u = 0; u < 6; ++u) {
        for (int f = 0; f < 6; ++f) {
            if (u / 2 != f / 2) all.push_back({static_cast<Axis>(u), static_cast<Axis>(f)});
        }
    }
    return all;
}

PoseSettings pose(double yaw_deg, double pitch_deg, double roll_deg) {
    PoseSettings settings;
    settings.yaw_deg = yaw_deg;
    settings.pitch_deg = pitch_deg;
    settings.roll_deg = roll_deg;
    return settings;
}

double difference(const glm::dmat3& a, const glm::dmat3& b) {
    double most = 0.0;
    for (int c = 0; c < 3; ++c) {
        for (int r = 0; r < 3; ++r) most = std::max(most, std::abs(a[c][r] - b[c][r]));
    }
    return most;
}

// Rodrigues' formula: v cos + (k x v) sin + k (k . v)(1 - cos), counter-clockwise about k.
glm::dmat3 turn_about(glm::dvec3 k, double deg) {
    const double c = std::cos(glm::radians(deg));
    const double s = std::sin(glm::radians(deg));
    const auto turned = [&](glm::dvec3 v) {
        return c * v + s * glm::cross(k, v) + (1 - c) * glm::dot(k, v) * k;
    };
    return {turned(right), turned(up), turned(to_viewer)};
}

}  // namespace

TEST_CASE("all 24 conventions are rotations that take up to +y and front to +z") {
    REQUIRE(conventions().size() == 24);
    for (const Convention& c : conventions()) {
        CAPTURE(axis_name(c.top));
        CAPTURE(axis_name(c.front));
        const glm::dmat3 turn = view_from_model(pose(0, 0, 0), c.top, c.front);
        CHECK(turn * axis_vector(c.top) == up);
        CHECK(turn * axis_vector(c.front) == to_viewer);
        CHECK(glm::determinant(turn) == 1.0);
        CHECK(difference(turn * glm::transpose(turn), glm::dmat3(1.0)) == 0.0);
        const glm::dmat3 posed = view_from_model(pose(33, -71, 140), c.top, c.front);
        CHECK(std::abs(glm::determinant(posed) - 1.0) < 1e-15);
        CHECK(difference(posed * glm::transpose(posed), glm::dmat3(1.0)) < 1e-15);
    }
}

TEST_CASE("the usual front of each up axis") {
    // glTF 2.0, "Coordinate System and Units": +y is up, the front faces +z. Common practice where
    // +z is up (3D printing, CAD): the front view looks along +y, the front faces -y.
    const auto front_of = [](Axis u) {
        return glm::transpose(view_from_model(pose(0, 0, 0), u, std::nullopt)) * to_viewer;
    };
    CHECK(front_of(Axis::plus_y) == glm::dvec3(0, 0, 1));
    CHECK(front_of(Axis::plus_z) == glm::dvec3(0, -1, 0));
    for (int u = 0; u < 6; ++u) {
        const Axis axis = static_cast<Axis>(u);
        CHECK(view_from_model(pose(0, 0, 0), axis, std::nullopt) * axis_vector(axis) == up);
    }
}

TEST_CASE("names of axes") {
    const std::vector<std::pair<std::string, glm::dvec3>> known{
        {"+x", {1, 0, 0}},  {"-x", {-1, 0, 0}}, {"+y", {0, 1, 0}},
        {"-y", {0, -1, 0}}, {"+z", {0, 0, 1}},  {"-z", {0, 0, -1}}};
    for (const auto& [name, direction] : known) {
        CHECK(axis_vector(axis_from_name(name)) == direction);
        CHECK(axis_name(axis_from_name(name)) == name);
    }
    CHECK_THROWS_AS(axis_from_name("up"), std::logic_error);
}

TEST_CASE("signs of the turns, as scene.hpp documents them") {
    for (const Convention& c : conventions()) {
        const glm::dvec3 front = axis_vector(c.front);
        const glm::dvec3 top = axis_vector(c.top);
        const glm::dvec3 side = glm::cross(top, front);  // at the viewer's right
        const auto seen = [&](const PoseSettings& settings, glm::dvec3 direction) {
            return view_from_model(settings, c.top, c.front) * direction;
        };
        // "positive turns the front to the viewer's right"
        CHECK(glm::length(seen(pose(90, 0, 0), front) - right) < 1e-15);
        CHECK(glm::length(seen(pose(90, 0, 0), top) - up) < 1e-15);
        CHECK(seen(pose(25, 0, 0), front).x == doctest::Approx(std::sin(glm::radians(25.0))));
        // "positive tips the top towards the viewer"
        CHECK(glm::length(seen(pose(0, 90, 0), top) - to_viewer) < 1e-15);
        CHECK(glm::length(seen(pose(0, 90, 0), side) - right) < 1e-15);
        CHECK(seen(pose(0, 25, 0), top).z == doctest::Approx(std::sin(glm::radians(25.0))));
        // "positive is counter-clockwise as seen"
        CHECK(glm::length(seen(pose(0, 0, 90), side) - up) < 1e-15);
        CHECK(glm::length(seen(pose(0, 0, 90), top) + right) < 1e-15);
        CHECK(glm::length(seen(pose(0, 0, 90), front) - to_viewer) < 1e-15);
    }
}

TEST_CASE("yaw first, then pitch, then roll, each about the viewer's axes") {
    Random random(41);
    for (int i = 0; i < 100; ++i) {
        const double yaw = random.between(-400, 400);
        const double pitch = random.between(-400, 400);
        const double roll = random.between(-400, 400);
        const glm::dmat3 expected =
            turn_about(to_viewer, roll) * turn_about(right, pitch) * turn_about(up, yaw);
        const glm::dmat3 found =
            view_from_model(pose(yaw, pitch, roll), Axis::plus_y, Axis::plus_z);
        CHECK(difference(found, expected) < 1e-15);
        const glm::dmat3 other =
            turn_about(up, yaw) * turn_about(right, pitch) * turn_about(to_viewer, roll);
        CHECK(difference(found, other) > 1e-3);  // the order shows
    }
}

TEST_CASE("turning the model and its axes together changes nothing") {
    const Solid solid = fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 9}, {2, 2, 2}});
    for (const auto projection : {Projection::parallel, Projection::perspective}) {
        auto scene = scene_on(tag(30, 50));
        scene.pose = pose(25, -10, 40);
        scene.pose.projection = projection;
        scene.model.front = Axis::plus_z;
        const Mesh mesh = mesh_of(solid);
        const auto expected = places(framed(scene, mesh).camera, mesh);
        for (const Convention& c : conventions()) {
            const glm::dmat3 back = glm::transpose(view_from_model(pose(0, 0, 0), c.top, c.front));
            const Mesh turned = mesh_of(mapped(solid, [&](glm::dvec3 p) { return back * p; }));
            scene.model.up = c.top;
            scene.model.front = c.front;
            const auto found = places(framed(scene, turned).camera, turned);
            REQUIRE(found.size() == expected.size());
            // Vertices may come in another order: compare the outermost ones.
            for (const glm::dvec2 n : {glm::dvec2(1, 0), {0, 1}, {-0.6, 0.8}, {0.8, -0.6}}) {
                double a = -1e9;
                double b = -1e9;
                for (const auto& p : expected) a = std::max(a, glm::dot(n, p));
                for (const auto& p : found) b = std::max(b, glm::dot(n, p));
                CHECK(std::abs(a - b) < 1e-9);
            }
        }
    }
}

TEST_CASE("a quarter turn of the model is a quarter turn of the pose") {
    const Solid solid = fan({{0, 0, 1}, {7, 1, 0}, {5, 6, 2}, {1, 3, 9}, {2, 2, 2}});
    const auto quarter = [](glm::dvec3 p) { return glm::dvec3(p.z, p.y, -p.x); };  // about +y
    auto scene = scene_on(round_blank(38));
    scene.pose.pitch_deg = 20;
    const Framing a = framed(scene, mesh_of(mapped(solid, quarter)));
    scene.pose.yaw_deg = 90;
    const Framing b = framed(scene, mesh_of(solid));
    CHECK(glm::length(a.subject.low_mm - b.subject.low_mm) < 1e-9);
    CHECK(glm::length(a.subject.high_mm - b.subject.high_mm) < 1e-9);
    CHECK(std::abs(a.subject.near_mm - b.subject.near_mm) < 1e-9);
}

TEST_CASE("a front along the up axis that the file states") {
    const Mesh mesh = mesh_of(box({1, 1, 1}));
    auto scene = scene_on(round_blank(38));
    scene.model.up.reset();
    scene.model.front = axis_from_name(mesh.facts().up);
    const Error error = error_of([&] { framed(scene, mesh); });
    CHECK(error.code() == ExitCode::bad_scene);
    CHECK(contains(error.what(), "[model] front: found \"" + mesh.facts().up + "\""));
    CHECK(contains(error.what(), "expected a front on another axis than up"));
    scene.model.up = scene.model.front == Axis::plus_x ? Axis::plus_y : Axis::plus_x;
    CHECK_NOTHROW(framed(scene, mesh));
}

namespace {

std::vector<std::string> matched(const std::vector<std::string>& patterns, const Mesh& mesh) {
    std::vector<std::string> names;
    for (const std::uint32_t part : parts_matching(patterns, mesh, "[pass.parts] names")) {
        names.push_back(mesh.parts()[part].name);
    }
    return names;
}

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("parts by name") {
    const std::string two_bytes = "\xC3\xA4z";  // a letter of two bytes, then one of one
    const Mesh mesh = mesh_of_parts({"shell", "rib1", "rib2", "rib12", "stand", two_bytes});
    REQUIRE(mesh.parts().size() == 6);
    REQUIRE(mesh.parts()[0].name == "shell");
    CHECK(matched({"shell"}, mesh) == Names{"shell"});
    CHECK(matched({"*"}, mesh).size() == 6);
    CHECK(matched({"**"}, mesh).size() == 6);
    CHECK(matched({"rib*"}, mesh) == Names{"rib1", "rib2", "rib12"});
    CHECK(matched({"rib?"}, mesh) == Names{"rib1", "rib2"});
    CHECK(matched({"rib??"}, mesh) == Names{"rib12"});
    CHECK(matched({"*2"}, mesh) == Names{"rib2", "rib12"});
    CHECK(matched({"*b*2"}, mesh) == Names{"rib2", "rib12"});
    CHECK(matched({"?????"}, mesh) == Names{"shell", "rib12", "stand"});
    CHECK(matched({"s*l"}, mesh) == Names{"shell"});
    CHECK(matched({"s*l*l*"}, mesh) == Names{"shell"});
    CHECK(matched({"*shell*"}, mesh) == Names{"shell"});
    // One letter of two bytes is one letter (docs/scene-file.md: "? for any one letter").
    CHECK(matched({"?z"}, mesh) == Names{two_bytes});
    // In the file's order, each once, whatever the order of the patterns.
    CHECK(matched({"stand", "rib*", "rib1", "s*"}, mesh) ==
          Names{"shell", "rib1", "rib2", "rib12", "stand"});
    CHECK(matched({}, mesh).empty());
    const std::string expected =
        ", which is the name of no part; expected one of \"shell\", \"rib1\", \"rib2\", \"rib12\", "
        "\"stand\", \"\xC3\xA4z\" (`rakelight inspect` lists them)";
    for (const char* none : {"", "Shell", "shel", "shells", "rib", "?", "rib???", "b*", "*x*",
                             "shell?", "s*l*l*l*", "?hell?", " shell"}) {
        const Error error = error_of([&] { matched({"shell", none}, mesh); });
        CHECK(error.code() == ExitCode::bad_scene);
        std::string message = "[pass.parts] names: found \"";
        message.append(none).append("\"").append(expected);
        CHECK(std::string(error.what()) == message);
    }
}

TEST_CASE("parts by material") {
    // Wavefront OBJ: usemtl names the material of the faces that follow.
    const Mesh mesh = loaded("coats.obj",
                             "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\n"
                             "g crown\nusemtl gold leaf\nf 1 2 3\n"
                             "g ring\nusemtl gold\nf 1 3 4\n"
                             "g bust\nusemtl bronze\nf 1 2 4\n");
    REQUIRE(mesh.parts().size() == 3);
    REQUIRE(mesh.parts()[2].material == "bronze");
    CHECK(matched({"material:bronze"}, mesh).size() == 1);
    CHECK(matched({"material:gold*"}, mesh).size() == 2);
    CHECK(matched({"material:*"}, mesh).size() == 3);
    CHECK(matched({"bust*", "material:gold"}, mesh).size() == 2);
    const std::string message = error_of([&] { matched({"material:silver"}, mesh); }).what();
    CHECK(
        contains(message, "found \"material:silver\", which is the material of no part; expected"));
    CHECK(contains(message, "\"material:gold\", \"material:bronze\" (`rakelight inspect`"));
    CHECK(contains(error_of([&] { matched({"gold"}, mesh); }).what(), "the name of no part"));
}

TEST_CASE("use and skip") {
    const Mesh mesh = mesh_of_parts({"shell", "rib1", "rib2", "stand"});
    const auto used = [&](Names use, Names skip) {
        ModelSettings settings;
        settings.file_as_written = "ammonite.obj";
        settings.use = std::move(use);
        settings.skip = std::move(skip);
        return used_parts(settings, mesh);
    };
    using Flags = std::vector<bool>;
    CHECK(used({}, {}) == Flags{true, true, true, true});
    CHECK(used({"rib*"}, {}) == Flags{false, true, true, false});
    CHECK(used({}, {"stand"}) == Flags{true, true, true, false});
    CHECK(used({"shell", "rib*"}, {"rib2"}) == Flags{true, true, false, false});
    CHECK(used({"*"}, {"*1", "*2", "st*"}) == Flags{true, false, false, false});

    const Error nothing = error_of([&] { used({"rib*"}, {"*"}); });
    CHECK(nothing.code() == ExitCode::bad_scene);
    CHECK(std::string(nothing.what()) ==
          "[model] use and skip leave no part of ammonite.obj; expected at least one of \"shell\", "
          "\"rib1\", \"rib2\", \"stand\"");
    CHECK(contains(error_of([&] { used({"ribs"}, {}); }).what(), "[model] use: found \"ribs\""));
    CHECK(contains(error_of([&] { used({}, {"base"}); }).what(), "[model] skip: found \"base\""));
}

TEST_CASE("many parts and hostile patterns") {
    Names names;
    for (int i = 0; i < 40; ++i) names.push_back("part" + std::to_string(i));
    names.emplace_back(300, 'a');
    const Mesh mesh = mesh_of_parts(names);
    REQUIRE(mesh.parts().size() == names.size());
    // A message lists a dozen names, no more.
    const std::string message = error_of([&] { matched({"x"}, mesh); }).what();
    CHECK(contains(message, "\"part11\", ... ("));
    CHECK_FALSE(contains(message, "part12"));
    // What a terminal would obey is shown, not sent.
    const std::string escape = error_of([&] { matched({"\x1B[2J"}, mesh); }).what();
    CHECK_FALSE(contains(escape, "\x1B"));

    // A matcher that tries every star anew would need 300^40 steps for this.
    std::string pattern;
    for (int i = 0; i < 40; ++i) pattern += "*a";
    const auto start = std::chrono::steady_clock::now();
    CHECK(matched({pattern}, mesh).size() == 1);
    CHECK_THROWS_AS(matched({pattern + "*b"}, mesh), Error);
    CHECK_THROWS_AS(matched({std::string(2000, '*') + "b"}, mesh), Error);
    CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(1));
}
