// The quick part of what the accuracy run measures (docs/accuracy.md): closed forms and the demo's
// model, small. The targets are the product's.

#define DOCTEST_CONFIG_IMPLEMENT_WITH_MAIN
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "form_figures.hpp"
#include "model_figures.hpp"
#include "relief_figures.hpp"
#include "traced_occlusion.hpp"
#include "traced_undercut.hpp"

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

// Pixel by pixel where every sample has the same number of gaps, and all in all.
void check_undercut(const SeenForm& seen, const GapPicture& traced) {
    const auto picture = seen.read("undercut");
    const auto& pass = *std::find_if(seen.rendered.manifest.at("passes").begin(),
                                     seen.rendered.manifest.at("passes").end(),
                                     [](const auto& one) { return one.at("name") == "undercut"; });
    const double mm_per_code = pass.at("numbers").at("mm_per_code");
    const double px_per_mm = seen.grid.px_per_mm;
    std::size_t compared = 0, gaps = 0;
    double covered = 0, hidden = 0, layers = 0, volume = 0, edge = 0;
    for (int y = 0; y < traced.height; ++y) {
        for (int x = 0; x < traced.width; ++x) {
            const TracedGaps& pixel = traced.at(x, y);
            covered += pixel.covered;
            hidden += pixel.with_hidden;
            layers += pixel.layers;
            volume += pixel.empty_mm * pixel.covered / traced.samples / px_per_mm / px_per_mm;
            edge += pixel.even(traced.samples) || pixel.covered == 0 ? 0 : 1;
            if (!traced.inner(x, y)) continue;
            ++compared;
            gaps += pixel.layers > 0;
            // Both ends of a gap move with their slope, as depth does: see comparison.cpp, where
            // corners move by 1/32 of a sample each way; ours by 1/2048.
            const double tolerance =
                mm_per_code + 1e-5 + 2.0 * pixel.slope * std::sqrt(2.0) / 2048.0 / 4.0 / px_per_mm;
            const double error = std::abs(picture.at(x, y) * mm_per_code - pixel.empty_mm);
            CHECK_MESSAGE(error <= tolerance, x << ", " << y << ": " << pixel.empty_mm);
        }
    }
    CHECK(compared > 3000);
    CHECK(gaps > 100);
    // A sample at an edge may fall on either side where the corners' rounding decides: of some
    // edge * 16 samples beside one, in 1/2048 of a sample's width.
    const auto& figures = pass.at("figures");
    const double stray = 4.0 + edge * 16.0 / 512.0;
    CHECK(std::abs(figures.at("hidden_share").get<double>() - hidden / covered) < stray / covered);
    CHECK(std::abs(figures.at("hidden_surface_share").get<double>() - layers / (layers + covered)) <
          stray / covered);
    if (seen.rendered.manifest.at("camera").at("projection") == "parallel") {
        const double found = figures.at("gap_volume_mm3");
        CHECK(std::abs(found - volume) < 1e-3 * volume);
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

TEST_CASE("undercut is what rays find behind the first surface of closed shells") {
    using cli_test::Model;
    const Model ground = cli_test::box({-8, -8, -1}, {8, 8, 0});
    const Model over = cli_test::moved(cli_test::sphere(4.0, 48), glm::dmat3(1), {1, 0, 5});
    const glm::dmat3 turn(0.6, 0, -0.8, 0, 1, 0, 0.8, 0, 0.6);
    const Model pair = cli_test::joined(cli_test::crooked(),
                                        cli_test::moved(cli_test::crooked(), turn, {2, -4, -7}));
    struct Form {
        std::string name;
        Model model;
        const char* pose;
    };
    for (const auto& [name, model, pose] :
         {Form{"over-ground", cli_test::joined(over, ground), "yaw_deg = 40.0\npitch_deg = 55.0\n"},
          Form{"torus", torus(6.0, 2.5, 240, 120), "pitch_deg = 75.0\n"},
          Form{"crooked-pair", pair, "yaw_deg = 10.0\npitch_deg = 25.0\n"}}) {
        for (const std::string projection : {"parallel", "perspective"}) {
            CAPTURE(name);
            CAPTURE(projection);
            FormScene form{model, 8.0};
            form.pose = pose + ("projection = \"" + projection) + "\"\n";
            form.passes = "[pass.undercut]\n";
            const std::string file = "undercut-" + name + "-" + projection;
            const SeenForm seen = see(form, folder(), file);
            check_undercut(seen, trace_gaps(seen, folder() / (file + ".ply"), 0.01));
        }
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

TEST_CASE("the usual recipe keeps more of the forms than depth times occlusion") {
    std::vector<RecipesCompared> compared;
    for (const Subject& subject :
         {Subject{"ammonite", RAKELIGHT_DEMO_MODEL},
          Subject{"wuson", fs::path(RAKELIGHT_ASSIMP_MODELS) / "PLY/Wuson.ply"}}) {
        if (!fs::exists(subject.file)) continue;
        compared.push_back(compare_recipes(relief_view(subject, 12.0), folder() / "relief"));
        CAPTURE(subject.name);
        // A relief of depth alone is the form itself, made shallow: its fine part is there, faint,
        // and its normals are exact once they are scaled back, but for what codes round.
        CHECK(compared.back().depth.angle_deg < 1.0);
        // What it loses is contrast.
        CHECK(compared.back().usual.contrast > 1.4 * compared.back().depth.contrast);
    }
    check_met(relief_figures(compared));
}
