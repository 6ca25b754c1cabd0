// A pose's figures on shapes whose figures are known in closed form.

#include <doctest/doctest.h>

#include <cmath>
#include <cstring>

#include "poses/facing_area.hpp"
#include "test_poses_solids.hpp"
#include "test_texture_support.hpp"

using namespace batch_test;

namespace {

// An edge of the outline is off by at most half a sample: of 15 px/mm and four samples an axis.
constexpr double half_sample_mm = 0.5 / (4 * 15.0);

}  // namespace

TEST_CASE("a sphere, in parallel: all figures in closed form") {
    const double r = 10.0;
    Scene scene = scene_at_size();
    scene.passes.steep = SteepPass{30.0, 1.0};
    const PoseFigures seen = figures_of(scene, sphere(r));
    // The facets of 192 around lie up to r (1 - cos(pi / 192)) = 0.0013 mm inside, 0.03 % of the
    // area; samples along the outline are off at random.
    CHECK(seen.field_share == doctest::Approx(pi * r * r / 1600.0).epsilon(1e-3));
    CHECK(seen.hidden_share < 1e-3);
    CHECK(seen.rim_gap_mm == doctest::Approx(20.0 - r).epsilon(1e-5));
    CHECK(seen.off_middle_mm < 1e-3);
    CHECK(seen.crevice_share < 1e-3);  // convex: open everywhere
    // Steeper than 30 degrees to the axis: n_z < 1/2, outside of r cos 30, a quarter of the disc.
    // One pixel more or less around that circle is 2 r cos 30 / (15 r^2); half of it at most.
    CHECK(std::abs(seen.steep_share - 0.25) < 0.006);
    // From the top down to heights that one sample of the outermost pixels shows.
    CHECK(seen.depth_mm < r);
    CHECK(seen.depth_mm > r - std::sqrt(2.0 * r * 1.5 / 15.0));
    // Of the disc, h^2 / r^2 lies above height h: a density of 2 h, from the lowest height seen.
    const double low = (r - seen.depth_mm) / r;
    double bits = 0.0;
    for (int i = 0; i < 256; ++i) {
        const double a = low + (1.0 - low) * i / 256, b = low + (1.0 - low) * (i + 1) / 256;
        const double share = (b * b - a * a) / (1.0 - low * low);
        bits -= share * std::log2(share);
    }
    // Some 275 of 70,000 pixels a bin: their scatter takes off at most 255 / (2 N ln 2) bits.
    CHECK(seen.depth_evenness == doctest::Approx(bits / 8.0).epsilon(2e-3));
    CHECK(seen.depth_evenness < 0.98);
}

TEST_CASE("a sphere in perspective: its outline grows, and nothing of what faces the eye hides") {
    const double r = 7.0, eye = eye_mm(60.0);
    Scene scene = scene_at_size();
    look_in_perspective(scene, 60.0);
    const PoseFigures seen = figures_of(scene, sphere(r));
    const double outline = eye * r / std::sqrt(eye * eye - r * r);
    CHECK(seen.field_share == doctest::Approx(pi * outline * outline / 1600.0).epsilon(1e-3));
    CHECK(seen.rim_gap_mm == doctest::Approx(20.0 - outline).epsilon(1e-3));
    CHECK(seen.hidden_share < 1e-3);
}

TEST_CASE("a turned box: width, depth, and a side that is steep or is not") {
    Scene scene = scene_at_size();
    const Triangles shape = box(20, 20, 10);
    const auto turned = [&](double yaw_deg, SteepPass steep) {
        scene.pose.yaw_deg = yaw_deg;
        scene.passes.steep = steep;
        return figures_of(scene, shape);
    };
    const auto side_share = [](double yaw_deg) {
        const double a = yaw_deg * pi / 180.0;
        return 10 * std::sin(a) / (20 * std::cos(a) + 10 * std::sin(a));
    };
    // Pixels of the column between front and side show both and are not steep.
    const double column = 1.0 / (15.0 * 20.5) + 1e-4;
    CHECK(std::abs(turned(3, {}).steep_share - side_share(3)) < column);
    CHECK(turned(7, {}).steep_share == 0.0);
    CHECK(std::abs(turned(7, {10.0, 1.0}).steep_share - side_share(7)) < column);
    // A relief of a quarter of the depth has atan(4 tan 3) = 11.8 degrees there.
    CHECK(turned(3, {5.0, 0.25}).steep_share == 0.0);

    const PoseFigures seen = turned(30, {});
    const double a = pi / 6.0, width = 20 * std::cos(a) + 10 * std::sin(a);
    CHECK(seen.field_share == doctest::Approx(width * 20 / 1600).epsilon(4 * half_sample_mm / 20));
    CHECK(seen.hidden_share < 4 * half_sample_mm / 20);
    // From the near edge down to the left one: the front's far end is 20 sin 30 behind it, the
    // side's 10 cos 30. A pixel's mean is up to a pixel's rise off on each.
    CHECK(std::abs(seen.depth_mm - 20 * std::sin(a)) < 2.0 / 15.0);
    CHECK(seen.rim_gap_mm == doctest::Approx(20 - std::max(10.0, 0.5 * width)).epsilon(1e-5));
}

TEST_CASE("steep in perspective is the slope of the depth as it is drawn") {
    // On the plane z = -k x a place p of the picture, E the eye, has x = p / (1 - k p / E) and the
    // slope k / (1 - k p / E)^2: more than 1.5 k is what lies to the right of one p.
    const double k = std::tan(pi / 3.0), eye = eye_mm(60.0);
    Scene scene = scene_at_size();
    look_in_perspective(scene, 60.0);
    scene.passes.steep = SteepPass{std::atan(1.0 / (1.5 * k)) * 180.0 / pi, 1.0};
    const Triangles tilted = mapped(plate(16, 6), [&](Point p) -> Point {
        return {p[0], p[1], -k * p[0]};
    });
    // The picture of it is 6 (1 - k p / E) high.
    const auto area = [&](double from, double to) {
        const auto whole = [&](double p) { return 6.0 * (p - 0.5 * k * p * p / eye); };
        return whole(to) - whole(from);
    };
    const double left = -8.0 / (1.0 - 8.0 * k / eye), right = 8.0 / (1.0 + 8.0 * k / eye);
    const double from = eye / k * (1.0 - std::sqrt(1.0 / 1.5));
    const double share = area(from, right) / area(left, right);
    CHECK(share > 0.05);
    // Off by a column at most.
    CHECK(std::abs(figures_of(scene, tilted).steep_share - share) < 1.0 / (15.0 * (right - left)));
}

TEST_CASE("two plates: exactly what the front one covers is hidden, in both projections") {
    Scene scene = scene_at_size();
    const Triangles front = plate(6, 6, {0, 0, 4}), rear = plate(12, 12, {0, 0, -4});
    const double tolerance = 4 * half_sample_mm / 6;  // of the smaller plate's area
    const auto hidden = [&](const Triangles& shape) {
        return figures_of(scene, shape).hidden_share;
    };
    CHECK(std::abs(hidden(both(front, rear)) - 36.0 / 180.0) < tolerance);
    CHECK(std::abs(hidden(both(box(6, 6, 1, {0, 0, 4}), box(12, 12, 1, {0, 0, -4}))) -
                   36.0 / 180.0) < tolerance);
    SUBCASE("perspective: near is larger") {
        look_in_perspective(scene, 60.0);
        const double eye = eye_mm(60.0);
        const double a = 36.0 * std::pow(eye / (eye - 4), 2);
        const double b = 144.0 * std::pow(eye / (eye + 4), 2);
        CHECK(std::abs(hidden(both(front, rear)) - a / (a + b)) < tolerance);
        CHECK(std::abs(a / (a + b) - 0.2) > 5 * tolerance);
    }
    SUBCASE("what the picture's edge cuts off counts nowhere") {
        scene.framing.shift_mm = {17.0, 17.0};  // 3 mm of each plate are left beyond the middle
        CHECK(std::abs(hidden(both(front, rear)) - 36.0 / (36.0 + 81.0)) < tolerance);
        scene.framing.shift_mm = {-17.0, -17.0};
        CHECK(std::abs(hidden(both(front, rear)) - 36.0 / (36.0 + 81.0)) < tolerance);
        look_in_perspective(scene, 20.0);
        const double eye = eye_mm(20.0);
        const double near = eye / (eye - 4), far = eye / (eye + 4);
        const double a = std::pow(3 * near + std::min(3 * near, 3.0), 2);
        const double b = std::pow(6 * far + 3.0, 2);
        CHECK(std::abs(hidden(both(front, rear)) - a / (a + b)) < tolerance);
    }
    SUBCASE("sheets that show their backs count as surface") {
        CHECK(std::abs(hidden(reversed(both(front, rear))) - 36.0 / 180.0) < tolerance);
        // One each way cannot be told from a front and its back: a lower bound.
        CHECK(hidden(both(reversed(front), rear)) < tolerance);
    }
}

TEST_CASE("depth is used evenly by a tilted plane, and not by steps or a flat") {
    Scene scene = scene_at_size();
    const auto evenness = [&](const Triangles& shape) {
        return figures_of(scene, shape).depth_evenness;
    };
    CHECK(figures_of(scene, plate(12, 12)).depth_mm == 0.0);
    CHECK(evenness(plate(12, 12)) == 0.0);
    // Two heights of equal area: one bit of eight. The seam lies between two pixels.
    CHECK(evenness(both(plate(6, 12, {-3, 0, 0}), plate(6, 12, {3, 0, 2}))) ==
          doctest::Approx(1.0 / 8.0).epsilon(1e-6));
    // Each depth as often as another, since the plane falls along one of its sides. Roll makes
    // pixels' depths differ; 32,000 of them scatter over 256 bins by at most
    // 255 / (2 * 32,000 ln 2) / 8 of the whole, and the outermost bins lose half a pixel's rise.
    scene.pose.roll_deg = 30.0;
    const double tilted = evenness(mapped(plate(12, 12), [](Point p) -> Point {
        return {p[0], p[1], p[0]};
    }));
    CHECK(tilted > 0.99);
    CHECK(tilted <= 1.0);
}

TEST_CASE("crevices: a bowl and a groove by their closed forms, a ridge without any") {
    Scene scene = scene_at_size();
    scene.passes.occlusion = OcclusionPass{36.0};  // farther than any wall
    // docs/accuracy.md: the occlusion of a bowl is within 0.02 of the truth.
    const double bias = 0.02;
    SUBCASE("the bowl of a sphere is equally closed everywhere") {
        // From a place on a sphere, a cap of it closes as much of the sky as it has of the sphere's
        // area (Howell, "A Catalog of Radiation Heat Transfer Configuration Factors"): for 60
        // degrees (1 - cos 60) / 2 = 1/4.
        const double r = 10.0, cap = r * std::sin(pi / 3.0), land = 12.0;
        const Triangles bowl = patch(192, 96, [&](double u, double v) -> Point {
            const double at = v < 0.75 ? cap * v / 0.75 : cap + (land - cap) * (v - 0.75) / 0.25;
            const double z = at < cap ? -std::sqrt(r * r - at * at) : -r * std::cos(pi / 3.0);
            return {at * std::sin(2 * pi * u), at * std::cos(2 * pi * u), z};
        });
        const double share = cap * cap / (land * land);
        CHECK(std::abs(figures_of(scene, bowl).crevice_share - 0.25 * share) < bias * share);
    }
    SUBCASE("the walls of a groove of 90 degrees see each other") {
        const Triangles groove = patch(2, 1, [](double u, double v) -> Point {
            const double x = 2.0 * std::numbers::sqrt2 * (u - 0.5);
            return {x, 20.0 * (v - 0.5), std::abs(x)};
        });
        // Howell C-14: two rectangles of h and w over their common edge's length, at a right angle.
        const double h = 0.1, w = 0.1, hw = h * h + w * w;
        const double logarithm = std::log((1 + w * w) * (1 + h * h) / (1 + hw)) +
                                 w * w * std::log(w * w * (1 + hw) / ((1 + w * w) * hw)) +
                                 h * h * std::log(h * h * (1 + hw) / ((1 + h * h) * hw));
        const double closed = (w * std::atan(1 / w) + h * std::atan(1 / h) -
                               std::sqrt(hw) * std::atan(1 / std::sqrt(hw)) + 0.25 * logarithm) /
                              (pi * w);
        CHECK(std::abs(figures_of(scene, groove).crevice_share - closed) < bias);
        scene.pose.yaw_deg = 180.0;  // the same sheet from behind is a ridge
        CHECK(figures_of(scene, groove).crevice_share < 1e-3);
    }
}

TEST_CASE("a disc off the middle: its gap to the rim is exact, below 0 where it reaches over") {
    // Corners lie on the circle's outermost points.
    const Triangles disc = patch(360, 1, [](double u, double v) -> Point {
        return {5 * v * std::sin(2 * pi * u), 5 * v * std::cos(2 * pi * u), 0.0};
    });
    Scene scene = scene_at_size();
    scene.blank.shape = BlankShape::round;
    scene.blank.rim_mm = 2.0;
    const auto moved = [&](glm::dvec2 by_mm) {
        scene.framing.shift_mm = by_mm;
        return figures_of(scene, disc);
    };
    CHECK(moved({0, 0}).rim_gap_mm == doctest::Approx(13.0).epsilon(1e-6));
    CHECK(moved({6, 0}).rim_gap_mm == doctest::Approx(7.0).epsilon(1e-6));
    CHECK(std::abs(moved({6, 0}).off_middle_mm - 6.0) < half_sample_mm);
    CHECK(moved({0, -14}).rim_gap_mm == doctest::Approx(-1.0).epsilon(1e-6));
    scene.blank.shape = BlankShape::rectangle;
    scene.blank.height_mm = 30.0;
    CHECK(moved({-3, 5}).rim_gap_mm == doctest::Approx(3.0).epsilon(1e-6));
    CHECK(std::abs(moved({-3, 4}).off_middle_mm - 5.0) < half_sample_mm);
}

TEST_CASE("what triangles or the picture do not tell is unknown") {
    texture_test::Textured sheet = texture_test::sheet(10.0, 2);
    sheet.material = R"({"alphaMode": "MASK", "pbrMetallicRoughness":
        {"baseColorTexture": {"index": 0}}})";
    const Mesh cut = texture_test::load(
        sheet, texture_test::tga(64, 64, [](double u, double) { return u < 0.5 ? 1.0 : 0.0; }));
    const PoseFigures seen = figures_of(scene_at_size(), cut);
    CHECK(std::isnan(seen.hidden_share));
    CHECK(seen.field_share == doctest::Approx(50.0 / 1600.0).epsilon(0.01));

    const Mesh mesh = render_test::load_triangles(plate(12, 12));
    const Scene scene = scene_at_size();
    const auto used = render_test::all_parts(mesh);
    const Framing framing = frame(scene, mesh, used);
    PoseMeter meter(scene, FacingSurface(mesh, used), framing);
    ProcessorRenderer renderer;
    renderer.set_mesh(mesh, used);
    RenderRequest request;  // no occlusion
    request.camera = framing.camera;
    request.grid = framing.grid;
    renderer.render(request, [&](const RenderedPlanes& planes, int first_row) {
        const auto masks = blank_masks(BlankGeometry(scene.blank), framing.grid, first_row,
                                       planes.coverage.height);
        meter.add({planes, masks, first_row});
    });
    CHECK(std::isnan(meter.figures().crevice_share));
    CHECK(meter.figures().field_share == doctest::Approx(144.0 / 1600.0).epsilon(0.01));
}

TEST_CASE("figures are the same in every bit for any strips") {
    const Mesh ball = render_test::load_ball();
    Scene scene = scene_at_size();
    look_in_perspective(scene, 40.0);
    scene.framing.mm_per_unit = 3.0;
    scene.framing.shift_mm = {9.0, 3.0};  // cut by the picture
    const PoseFigures whole = figures_of(scene, ball);
    const PoseFigures strips = figures_of(scene, ball, 1);
    CHECK(whole.hidden_share > 0.001);
    CHECK(std::memcmp(&whole, &strips, sizeof whole) == 0);
}

TEST_CASE("the facing area of a closed solid is the same from both sides") {
    const Mesh ball = render_test::load_ball();
    Scene scene = scene_at_size();
    for (const double view_deg : {0.0, 50.0}) {
        CAPTURE(view_deg);
        if (view_deg > 0.0) look_in_perspective(scene, view_deg);
        const auto used = render_test::all_parts(ball);
        const Camera camera = frame(scene, ball, used).camera;
        const FacingSurface surface(ball, used);
        const FacingArea area = surface.area(camera, nullptr);
        // A closed surface passes each line of sight to the viewer as often as away. The ball has
        // pinholes at its poles, 1e-4 of its radius wide.
        CHECK(area.front_mm2 == doctest::Approx(area.back_mm2).epsilon(1e-6));
        CHECK(area.front_mm2 > 60.0);
        const ImageGrid wide{4000, 4000, 10.0, -200.0, 200.0};
        const FacingArea cut = surface.area(camera, &wide);
        CHECK(cut.front_mm2 == doctest::Approx(area.front_mm2).epsilon(1e-12));
    }
}
