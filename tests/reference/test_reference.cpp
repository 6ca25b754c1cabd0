// The quick part of what the accuracy run measures (docs/accuracy.md): closed forms and the demo's
// model, small. The targets are the product's.

#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include <doctest/doctest.h>

#include <cmath>

#include "form_figures.hpp"
#include "model_figures.hpp"
#include "traced_occlusion.hpp"

using namespace reference;

namespace {

constexpr double pi = 3.14159265358979323846;

const fs::path& folder() {
    static const fs::path path = cli_test::root_folder() / "reference";
    fs::create_directories(path);
    return path;
}

// A pixel that looks at a place of the plane z = 0 from above.
SampleGrid one_pixel(glm::dvec3 at) {
    Sample sample;
    sample.at = at;
    sample.normal = sample.to_viewer = {0, 0, 1};
    sample.part = 0;
    SampleGrid grid{1, 1, 4, 1.0, {{0, 0}, {1, 1}}, {}};
    grid.samples.assign(16, sample);
    return grid;
}

double open_share(const Tracer& tracer, double reach_mm) {
    const auto blocked = [&](glm::dvec3 from, glm::dvec3 direction, double reach) {
        return tracer.blocked(from, direction, reach);
    };
    return traced_open_share(one_pixel({0, 0, 0}), 0, 0, reach_mm, blocked).value;
}

// A jittered grid of N rays misjudges a share by no more than the strata that an outline runs
// through: about 2 N^(1/2) of them, each by at most 1 / N, of independent signs.
const double noise = std::sqrt(2.0) * std::pow(rays_per_pixel, -0.75);

// One pose of each closed form in one projection, of the torus in both, and the demo's model from
// the front.
std::vector<View> quick_views() {
    std::vector<View> views;
    for (const auto& subject : closed_forms(folder() / "models")) {
        for (const auto& view : views_of(subject, 1, 8.0)) {
            const bool wanted = view.perspective == (subject.name == "crooked");
            if (wanted || subject.name == "torus") views.push_back(view);
        }
    }
    if (!fs::exists(RAKELIGHT_DEMO_MODEL)) return views;
    // Its ribs and sutures need more pixels; so few that the test stays quick.
    views.push_back({{"ammonite", RAKELIGHT_DEMO_MODEL}, 0, false, 0.0, 0.0, 0.0, 12.0});
    return views;
}

void check_met(const std::vector<Figure>& figures) {
    for (const auto& figure : figures) {
        CHECK_MESSAGE(figure.met(),
                      figure.what << ": " << figure.reached << " at " << figure.where);
    }
}

}  // namespace

TEST_CASE("the reference itself: a disc over a place closes r^2 / (r^2 + h^2) of its sky") {
    // An element and a disc on its normal: Howell's catalogue, B-12.
    std::vector<glm::dvec3> points{{0, 0, 2}};
    std::vector<Triangle> triangles;
    constexpr int corners = 360;
    for (std::uint32_t i = 0; i < corners; ++i) {
        const double a = 2.0 * pi * i / corners;
        points.emplace_back(1.5 * std::cos(a), 1.5 * std::sin(a), 2.0);
        triangles.push_back({0, i + 1, (i + 1) % corners + 1});
    }
    const Tracer tracer(points, triangles);
    const double closed = 1.5 * 1.5 / (1.5 * 1.5 + 2.0 * 2.0);
    CHECK(std::abs(1.0 - open_share(tracer, 10.0) - closed) < 4.0 * noise);
    // A reach of R sees the disc out to sqrt(R^2 - h^2) from its middle.
    CHECK(std::abs(1.0 - open_share(tracer, 2.2) - (2.2 * 2.2 - 4.0) / (2.2 * 2.2)) < 4.0 * noise);
    CHECK(open_share(tracer, 1.9) == 1.0);
}

TEST_CASE("the reference itself: a long wall leaves (1 + d / sqrt(d^2 + h^2)) / 2 of the sky") {
    // Two dimensions: Nusselt's unit circle. The wall is long enough that its ends count nothing.
    const Tracer tracer({{1, -1e4, 0}, {1, 1e4, 0}, {1, 1e4, 3}, {1, -1e4, 3}},
                        {{0, 1, 2}, {0, 2, 3}});
    const double open = 0.5 * (1.0 + 1.0 / std::sqrt(10.0));
    CHECK(std::abs(open_share(tracer, 1e5) - open) < 4.0 * noise);
}

TEST_CASE("depth, silhouette, parts and occlusion are those that rays see") {
    for (const auto& view : quick_views()) {
        CAPTURE(view.name());
        const ViewFigures found = compare(view, folder(), {.occlusion_grid_px = 8});
        CHECK(found.depth.within >= 0.999);
        CHECK(found.depth.compared > 10000);
        CHECK(found.area.error() <= 0.001);
        CHECK(found.parts.compared > 10000);
        CHECK(found.parts.wrong == 0);
        // The visible height surface alone: what a picture of one layer can know.
        CHECK(found.occlusion.inner.count > 250);
        CHECK(found.occlusion.inner.rmse() <= 0.02);
    }
}

TEST_CASE("in perspective a tall wall counts up to where it leaves the reach") {
    // Across the torus' hole the near rim stands higher than it is away. Its column passes farther
    // from the far rim than its top seems to.
    for (const auto& view : quick_views()) {
        if (view.name() != "torus-0-perspective") continue;
        CHECK(compare(view, folder(), {.occlusion_grid_px = 8}).occlusion.inner.rmse() <= 0.02);
    }
}

TEST_CASE("two layers know all of a torus, one does not") {
    // Lines of sight meet its solid twice at the most: what is left is the walk's own error.
    for (const auto& view : quick_views()) {
        if (view.name() != "torus-0-parallel") continue;
        const auto left = [&](int layers) {
            return compare(view, folder(), {.occlusion_grid_px = 8, .layers = layers})
                .occlusion.layered.rmse();
        };
        const double one = left(1), two = left(2);
        CAPTURE(one);
        CAPTURE(two);
        CHECK(two < 0.01);
        CHECK(one > 2.0 * two);
    }
}

TEST_CASE("half a sample to the side is noticed") {
    const View view = quick_views().front();
    CHECK(compare(view, folder(), {.trace_occlusion = false, .shift_px = 0.125}).depth.within <
          0.9);
}

TEST_CASE("occlusion has neither noise nor halo, and half a sphere is half open") {
    check_met(smoothness_figures(folder(), {12.0, {}}));
}

TEST_CASE("curvature is that of sphere, cylinder and torus") {
    check_met(curvature_figures(folder(), {12.0, {0.3}}));
}
