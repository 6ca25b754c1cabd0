// Poses that are proposed, for shapes whose best views are known.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>

#include "error.hpp"
#include "framing/subject.hpp"
#include "poses/propose.hpp"
#include "poses/view_score.hpp"
#include "test_poses_solids.hpp"

using namespace batch_test;

namespace {

LoadedScene loaded(const Triangles& shape) {
    Scene scene;
    scene.blank.rim_mm = 1.2;
    scene.model.up = Axis::plus_y;
    Mesh mesh = render_test::load_triangles(shape);
    auto used = render_test::all_parts(mesh);
    auto subject = std::make_shared<const Subject>(subject_of(mesh, used));
    return {std::move(scene), std::move(mesh), std::move(used), {}, std::move(subject)};
}

// Fewer than usual, to be quick.
ProposalOptions few() {
    ProposalOptions options;
    options.directions = 60;
    options.longer_px = 96;
    return options;
}

glm::dvec3 to_viewer(const PoseSettings& pose) {
    const glm::dmat3 turn = view_from_model(pose, Axis::plus_y, std::nullopt);
    return glm::transpose(turn) * glm::dvec3(0, 0, 1);
}

double degrees_between(const PoseSettings& a, const PoseSettings& b) {
    const double cosine = glm::dot(to_viewer(a), to_viewer(b));
    return std::acos(std::clamp(cosine, -1.0, 1.0)) * 180.0 / pi;
}

// Three unlike arms and a ball: no two sides are alike.
Triangles crooked() {
    Triangles shape = sphere(3, 24);
    shape = both(shape, box(9, 1, 1, {5, 1, 0}));
    shape = both(shape, box(1, 7, 2, {-1, 5, 1}));
    return both(shape, box(2, 1, 6, {0, -1, 5}));
}

}  // namespace

TEST_CASE("views are spread evenly, and up stays up in the picture") {
    Scene scene;
    scene.pose.projection = Projection::perspective;
    const auto poses = view_poses(scene, 150);
    REQUIRE(poses.size() == 160);
    std::set<std::pair<double, double>> usual;
    for (const auto& pose : poses) {
        CHECK(pose.projection == Projection::perspective);
        CHECK(pose.yaw_deg == std::round(pose.yaw_deg));
        const glm::dmat3 turn = view_from_model(pose, Axis::plus_y, std::nullopt);
        if (std::abs(pose.pitch_deg) <= 75.0) {
            CHECK(std::abs((turn * glm::dvec3(0, 1, 0)).x) < 1e-12);
            CHECK((turn * glm::dvec3(0, 1, 0)).y > 0.0);
        } else {
            // The model's right is on the right, off by no more than the tilt from the pole.
            CHECK((turn * glm::dvec3(1, 0, 0)).x > std::cos(15.0 * pi / 180.0) - 1e-9);
        }
    }
    // 150 caps of the sphere's area have a radius of 9.4 degrees. No place of a lattice is farther
    // from it than two of these, and no two are nearer than one, but for whole degrees.
    for (std::size_t i = 10; i < poses.size(); ++i) {
        double nearest = 180.0;
        for (std::size_t j = 10; j < poses.size(); ++j)
            if (i != j) nearest = std::min(nearest, degrees_between(poses[i], poses[j]));
        CHECK(nearest > 9.4);
        CHECK(nearest < 18.8);
    }
}

TEST_CASE("a coin is proposed face on") {
    const Triangles coin = patch(96, 1, [](double u, double v) -> Point {
        return {10 * v * std::sin(2 * pi * u), 10 * v * std::cos(2 * pi * u), 0.5};
    });
    const Triangles edge = patch(96, 1, [](double u, double v) -> Point {
        return {10 * std::sin(2 * pi * u), 10 * std::cos(2 * pi * u), 0.5 - v};
    });
    const Triangles back = mapped(reversed(coin), [](Point p) -> Point {
        return {p[0], p[1], -p[2]};
    });
    const auto proposals = propose_poses(loaded(both(both(coin, reversed(edge)), back)), few());
    REQUIRE(!proposals.empty());
    const PoseSettings& best = proposals[0].candidate.pose;
    CHECK(degrees_between(best, PoseSettings{}) == doctest::Approx(0.0));
    CHECK(proposals[0].parts.area == doctest::Approx(1.0).epsilon(0.01));
}

TEST_CASE("a cube is proposed by a corner") {
    // All three sides in view: the most area (the square root of 3, Cauchy) and log2 3 bits of
    // directions lie there.
    const auto proposals = propose_poses(loaded(box(10, 10, 10)), few());
    const glm::dvec3 eye = glm::abs(to_viewer(proposals[0].candidate.pose));
    CHECK(std::min({eye.x, eye.y, eye.z}) > 0.25);
    // Nearly the entropy of three equal shares, of at most log2 81 bits.
    CHECK(proposals[0].parts.form > 0.85 * std::log2(3.0) / std::log2(81.0));
    CHECK(proposals[0].candidate.pose.pitch_deg > 0.0);  // from above, not from below
}

TEST_CASE("a ball looks the same from everywhere and is proposed once") {
    CHECK(propose_poses(loaded(sphere(5))).size() == 1);
}

TEST_CASE("a dozen: named in their order, best first, apart, and always the same") {
    const LoadedScene scene = loaded(crooked());
    ProposalOptions options = few();
    const auto proposals = propose_poses(scene, options);
    REQUIRE(proposals.size() == 12);
    CHECK(proposals.front().candidate.name == "proposal-01");
    CHECK(proposals.back().candidate.name == "proposal-12");
    for (std::size_t i = 0; i < proposals.size(); ++i) {
        CHECK(proposals[i].candidate.zoom == 1.0);
        CHECK(proposals[i].score == proposals[i].parts.total());
        if (i > 0) CHECK(proposals[i].score <= proposals[i - 1].score);
        for (std::size_t j = 0; j < i; ++j)
            CHECK(degrees_between(proposals[i].candidate.pose, proposals[j].candidate.pose) > 9.9);
    }
    options.at_once = 1;
    const auto again = propose_poses(scene, options);
    REQUIRE(again.size() == proposals.size());
    for (std::size_t i = 0; i < again.size(); ++i) {
        CHECK(again[i].score == proposals[i].score);
        CHECK(again[i].candidate.pose.yaw_deg == proposals[i].candidate.pose.yaw_deg);
        CHECK(again[i].candidate.pose.pitch_deg == proposals[i].candidate.pose.pitch_deg);
    }
    // Where there is room for it, as far apart as was asked.
    options.count = 3;
    options.apart_deg = 90.0;
    const auto three = propose_poses(scene, options);
    REQUIRE(three.size() == 3);
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(degrees_between(three[i].candidate.pose, three[(i + 1) % 3].candidate.pose) > 89.9);
    }
}

TEST_CASE("the score is the mean by the weights of docs/poses.md") {
    CHECK(ViewScore{1, 1, 1, 1, 1, 1, 1, 1}.total() == doctest::Approx(1.0));
    CHECK(ViewScore{.area = 1}.total() == doctest::Approx(2.0 / 10.5));
    CHECK(ViewScore{.fill = 1}.total() == doctest::Approx(1.0 / 10.5));
    CHECK(ViewScore{.seen = 1}.total() == doctest::Approx(2.0 / 10.5));
    CHECK(ViewScore{.form = 1}.total() == doctest::Approx(2.0 / 10.5));
    CHECK(ViewScore{.outline = 1}.total() == doctest::Approx(0.5 / 10.5));
    CHECK(ViewScore{.evenness = 1}.total() == doctest::Approx(1.0 / 10.5));
    CHECK(ViewScore{.crevices = 1}.total() == doctest::Approx(0.5 / 10.5));
    CHECK(ViewScore{.outlook = 1}.total() == doctest::Approx(1.5 / 10.5));
}

TEST_CASE("pictures that are alike or mirrored do not differ") {
    Sketch a{}, b{}, mirrored{};
    for (int y = 0; y < sketch_side; ++y) {
        for (int x = 0; x < sketch_side; ++x) {
            const auto at = [&](int column) {
                return static_cast<std::size_t>(y * sketch_side + column);
            };
            a[at(x)] = x < 6 ? 0.5F : 0.0F;
            mirrored[at(sketch_side - 1 - x)] = a[at(x)];
            b[at(x)] = y < 6 && x >= 6 && x < 14 ? 0.5F : 0.0F;
        }
    }
    CHECK(difference(a, a) == 0.0);
    CHECK(difference(a, mirrored) == 0.0);
    CHECK(difference(a, b) == 1.0);
}

TEST_CASE("a scene from which nothing can be seen has no proposals") {
    LoadedScene scene = loaded(box(1, 1, 1));
    scene.scene.framing.shift_mm = {500.0, 0.0};
    try {
        propose_poses(scene, few());
        FAIL("nothing was thrown");
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::unusable_picture);
        CHECK(std::string(error.what()).find("no pose to propose") == 0);
    }
}
