// Surface detail from pictures: normals, curvature and occlusion against closed forms and against
// the same detail as real geometry; holes by their area.

#include <doctest/doctest.h>

#include <cmath>

#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using namespace render_test;
using texture_test::normal_map;
using texture_test::sheet;
using texture_test::Textured;

namespace {

constexpr double tau = 2.0 * std::numbers::pi;
constexpr double size_mm = 10.0;

RenderRequest plain_request(double px_per_mm = 20.0) {
    RenderRequest request;
    const int side = static_cast<int>(12.0 * px_per_mm);
    request.grid = {side, side, px_per_mm, -6.0, 6.0};
    return request;
}

RenderedPlanes render(const Mesh& mesh, const RenderRequest& request,
                      std::int64_t strip_px = std::int64_t{1} << 19) {
    ProcessorRenderer renderer(strip_px);
    renderer.set_mesh(mesh, all_parts(mesh));
    return whole(renderer, request);
}

/// Calls visit(x, y, mm) for pixels at least `margin_mm` within the sheet.
template <typename Visit>
void for_inner(const RenderRequest& request, double margin_mm, const Visit& visit) {
    for (int y = 0; y < request.grid.height; ++y)
        for (int x = 0; x < request.grid.width; ++x) {
            const glm::dvec2 at = request.grid.centre_of(x, y);
            if (std::max(std::fabs(at.x), std::fabs(at.y)) < size_mm / 2 - margin_mm)
                visit(x, y, at);
        }
}

/// Waves of height a sin(k x) on a sheet of `size_mm`: 5 of them.
constexpr double wave_k = tau * 5 / size_mm;
std::string wave_map(double amplitude_mm, int texels = 256) {
    return normal_map(texels, texels, [=](double u, double) {
        return glm::dvec2(amplitude_mm * wave_k * std::cos(wave_k * size_mm * (u - 0.5)), 0.0);
    });
}

/// The same waves as geometry, with the closed form's normals.
Textured real_waves(double amplitude_mm, int cells = 400) {
    Textured t = sheet(size_mm, cells);
    t.material = "{}";
    for (std::size_t i = 0; i < t.points.size(); ++i) {
        const double x = t.points[i].x;
        t.points[i].z = static_cast<float>(amplitude_mm * std::sin(wave_k * x));
        t.normals[i] =
            glm::normalize(glm::dvec3(-amplitude_mm * wave_k * std::cos(wave_k * x), 0.0, 1.0));
    }
    return t;
}

}  // namespace

TEST_CASE("waves of a normal map turn the normals as the closed form says, to both sides of red") {
    const double a = 0.05;
    const Mesh mesh = texture_test::load(sheet(size_mm, 3), wave_map(a));
    const RenderRequest request = plain_request();
    const RenderedPlanes planes = render(mesh, request);
    for_inner(request, 0.1, [&](int x, int y, glm::dvec2 at) {
        const double slope = a * wave_k * std::cos(wave_k * at.x);
        const double nx = -slope / std::sqrt(1.0 + slope * slope);
        // Linear between texels 1/25.6 mm apart: h''' / 8 of that squared is 5e-5 of slope; the
        // mean over a pixel takes (k / 20)^2 / 24 = 1e-3 of 0.155.
        REQUIRE(std::fabs(planes.normal_x.at(x, y) - nx) < 5e-4);
        REQUIRE(std::fabs(planes.normal_y.at(x, y)) < 1e-4);
        // Depth stays that of the faces.
        REQUIRE(std::fabs(planes.height_mm.at(x, y)) < 1e-5);
    });
}

TEST_CASE("green is up: what rises upwards in the picture faces down in it") {
    const std::string map = normal_map(16, 16, [](double, double) { return glm::dvec2(0.0, 0.2); });
    const RenderRequest request = plain_request();
    const double ny = 0.2 / std::sqrt(1.04);
    const auto middle = [&](const Mesh& mesh) {
        return render(mesh, request).normal_y.at(120, 120);
    };
    CHECK(middle(texture_test::load(sheet(size_mm, 3), map)) == doctest::Approx(-ny).epsilon(1e-3));
    CHECK(middle(texture_test::load(sheet(size_mm, 3), map, {.green_down = true})) ==
          doctest::Approx(ny).epsilon(1e-3));
}

TEST_CASE("curvature follows a normal map: -h''/2 for small slopes, with its sign") {
    const double a = 0.02;
    RenderRequest request = plain_request(40.0);
    request.curvature_scale_mm = 0.1;
    const RenderedPlanes planes =
        render(texture_test::load(sheet(size_mm, 3), wave_map(a)), request);
    // A Gaussian mean of 0.1 mm takes exp(-k^2 s^2 / 2) = 0.952 of a wave of k = 3.14; slopes up to
    // 0.063 change H by 3/2 of their square, 0.6 %.
    const double most = 0.5 * a * wave_k * wave_k * std::exp(-0.5 * wave_k * wave_k * 0.01);
    for_inner(request, 0.6, [&](int x, int y, glm::dvec2 at) {
        REQUIRE(std::fabs(planes.curvature.at(x, y) - most * std::sin(wave_k * at.x)) <
                0.02 * most);
    });
}

TEST_CASE("a normal map looks like the same detail as geometry, in every pass but depth") {
    const double a = 0.2;
    RenderRequest request = plain_request();
    request.curvature_scale_mm = 0.15;
    request.occlusion_reach_mm = 1.5;
    const RenderedPlanes mapped =
        render(texture_test::load(sheet(size_mm, 3), wave_map(a)), request);
    const RenderedPlanes real = render(texture_test::load(real_waves(a), ""), request);
    double darkest = 1.0;
    for_inner(request, 1.6, [&](int x, int y, glm::dvec2) {
        darkest = std::min<double>(darkest, real.occlusion.at(x, y));
        REQUIRE(std::fabs(mapped.normal_x.at(x, y) - real.normal_x.at(x, y)) < 3e-3);
        REQUIRE(std::fabs(mapped.curvature.at(x, y) - real.curvature.at(x, y)) < 0.02);
        // The map does not tile, so that 5 waves keep 25 / 26 of their height, 4 %: of an
        // occlusion of some 0.1 no more than 0.005.
        REQUIRE(std::fabs(mapped.occlusion.at(x, y) - real.occlusion.at(x, y)) < 0.008);
    });
    CHECK(darkest < 0.93);
}

TEST_CASE("heights of a map move depth when that is asked for") {
    const double a = 0.1;
    RenderRequest request = plain_request();
    request.texture.in_depth = true;
    // Twice over the sheet, so that it tiles and nothing is faded.
    const std::string map = normal_map(128, 128, [=](double u, double) {
        return glm::dvec2(a * 2 * wave_k * std::cos(tau * 5 * u), 0.0);
    });
    const RenderedPlanes planes = render(texture_test::load(sheet(size_mm, 3, 2.0), map), request);
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2 at) {
        // The map begins at the sheet's left edge. 25.6 texels a wave: between texels 0.75 % of the
        // height is lost, and a twentieth of a millimetre's mean takes 0.4 %.
        const double height = a * std::sin(tau * 5 * 2 * (at.x / size_mm + 0.5));
        REQUIRE(std::fabs(planes.height_mm.at(x, y) - height) < 0.02 * a);
    });
}

TEST_CASE("a bump map is heights of its span, in the normals as in geometry") {
    // From black to white and back over the width: -0.5 to 0.5 of 0.4 mm.
    const std::string map = texture_test::png(256, 256, 1, [](double u, double, int) {
        return 0.5 + 0.5 * std::sin(wave_k * size_mm * (u - 0.5));
    });
    const texture_test::Folder folder;
    folder.write("bump.png", map);
    folder.write("m.mtl", "newmtl a\nmap_bump bump.png\n");
    folder.write("a.obj",
                 "mtllib m.mtl\nv -5 -5 0\nv 5 -5 0\nv 5 5 0\nv -5 5 0\nvt 0 0\nvt 1 0\nvt 1 1\n"
                 "vt 0 1\nusemtl a\nf 1/1 2/2 3/3 4/4\n");
    const Mesh mesh = texture_test::load(folder / "a.obj");
    RenderRequest request = plain_request();
    request.texture.bump_mm = 0.2;
    request.texture.in_depth = true;
    const RenderedPlanes planes = render(mesh, request);
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2 at) {
        const double slope = 0.1 * wave_k * std::cos(wave_k * at.x);
        const double nx = -slope / std::sqrt(1.0 + slope * slope);
        REQUIRE(std::fabs(planes.normal_x.at(x, y) - nx) < 2e-3);
        REQUIRE(std::fabs(planes.height_mm.at(x, y) - 0.1 * std::sin(wave_k * at.x)) < 1e-3);
    });
}

TEST_CASE("mirrored coordinates mirror the detail, with the lamp on the right side") {
    // Bumps that no mirror maps to themselves, once as they are and once with u running backwards.
    const std::string map = normal_map(128, 128, [](double u, double v) {
        return glm::dvec2(0.3 * std::cos(tau * 3 * u) + 0.1, 0.2 * std::sin(tau * 2 * (u + v)));
    });
    Textured mirrored = sheet(size_mm, 3);
    for (glm::vec2& place : mirrored.places) place.x = 1.0F - place.x;
    const RenderRequest request = plain_request();
    const RenderedPlanes a = render(texture_test::load(sheet(size_mm, 3), map), request);
    const RenderedPlanes b = render(texture_test::load(mirrored, map), request);
    double most = 0.0;
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2) {
        const int there = request.grid.width - 1 - x;
        most = std::max<double>(most, std::fabs(a.normal_x.at(x, y)));
        // Samples lie symmetrically; single precision.
        REQUIRE(std::fabs(a.normal_x.at(x, y) + b.normal_x.at(there, y)) < 2e-4);
        REQUIRE(std::fabs(a.normal_y.at(x, y) - b.normal_y.at(there, y)) < 2e-4);
    });
    CHECK(most > 0.2);
}

TEST_CASE("a half that is mirrored onto the other meets it without a seam") {
    // u = |x| / 5: both halves use the same vertices on the middle line, with tangents that point
    // away from each other.
    Textured folded = sheet(size_mm, 4);
    for (std::size_t i = 0; i < folded.points.size(); ++i)
        folded.places[i].x = std::fabs(folded.points[i].x) / 5.0F;
    const std::string map = normal_map(64, 64, [](double, double) { return glm::dvec2(0.3, 0.0); });
    const RenderRequest request = plain_request();
    const RenderedPlanes planes = render(texture_test::load(folded, map), request);
    const double nx = 0.3 / std::sqrt(1.09);
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2 at) {
        // A valley: both sides rise outwards.
        REQUIRE(std::fabs(planes.normal_x.at(x, y) - (at.x > 0 ? -nx : nx)) < 1e-3);
    });
}

TEST_CASE("a texture transform is scale, then turn, then offset (KHR_texture_transform)") {
    // Which way it turns was taken from Khronos' test model for it, in Debian's assimp-testmodels:
    // u' = c u + s v and v' = -s u + c v, v downwards.
    const double turn = 0.4, sx = 1.5, sy = 0.8, ox = 0.2, oy = -0.1;
    const auto slope = [](double u, double v) {
        return glm::dvec2(0.25 * std::cos(tau * 2 * u), 0.15 * std::cos(tau * 3 * v));
    };
    Textured moved = sheet(size_mm, 3);
    moved.material = R"({"normalTexture": {"index": 0, "extensions": {"KHR_texture_transform":
        {"offset": [0.2, -0.1], "rotation": 0.4, "scale": [1.5, 0.8]}}}})";
    Textured plain = sheet(size_mm, 3);
    for (glm::vec2& p : plain.places) {
        const double u = sx * p.x, v = sy * p.y, c = std::cos(turn), s = std::sin(turn);
        p = {c * u + s * v + ox, -s * u + c * v + oy};
    }
    const std::string map = normal_map(128, 128, slope);
    const RenderRequest request = plain_request();
    const RenderedPlanes a = render(texture_test::load(moved, map), request);
    const RenderedPlanes b = render(texture_test::load(plain, map), request);
    CHECK(largest_difference(a.normal_x, b.normal_x) < 2e-4);
    CHECK(largest_difference(a.normal_y, b.normal_y) < 2e-4);
    CHECK(spread(a.normal_x) > 0.3);
}

TEST_CASE("a mask cuts a disc of the right area, in parallel and in perspective") {
    const double radius = 0.35;
    const std::string map = texture_test::tga(256, 256, [&](double u, double v) {
        const double inside = (radius - std::hypot(u - 0.5, v - 0.5)) * 256.0;
        return std::clamp(0.5 + inside, 0.0, 1.0);  // a smooth edge: half at the circle
    });
    Textured model = sheet(size_mm, 3);
    model.material = R"({"alphaMode": "MASK", "alphaCutoff": 0.5, "pbrMetallicRoughness":
        {"baseColorTexture": {"index": 0}}})";
    const Mesh mesh = texture_test::load(model, map);
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = plain_request();
        request.camera.projection = projection;
        request.camera.eye_mm = 30.0;
        const RenderedPlanes planes = render(mesh, request);
        double area = 0.0;
        for (const float share : planes.coverage.values) area += share / 400.0;
        const double wanted = std::numbers::pi * radius * radius * size_mm * size_mm;
        // Codes of 8 bits move the edge by up to half of 1/255 texel; along 440 pixels of outline
        // samples are off at random, by 0.5 / 16 * sqrt(440) / 400 mm2. Half a thousandth is more.
        CHECK(area == doctest::Approx(wanted).epsilon(5e-4));
    }
}

TEST_CASE("what lies behind a hole shows, in depth and in masks") {
    // Two sheets in one model, the front one with a hole: a tilted camera sees the back through it.
    const std::string map = texture_test::tga(
        64, 64, [](double u, double v) { return std::hypot(u - 0.5, v - 0.5) < 0.25 ? 0.0 : 1.0; });
    Textured model = sheet(size_mm, 2);
    model.material = R"({"alphaMode": "MASK", "pbrMetallicRoughness":
        {"baseColorTexture": {"index": 0}}})";
    const auto front = static_cast<std::uint32_t>(model.points.size());
    for (std::uint32_t i = 0; i < front; ++i) {
        model.points.push_back(model.points[i] - glm::vec3(0, 0, 3));
        model.normals.push_back(model.normals[i]);
        model.places.emplace_back(0.01F, 0.01F);  // where it is whole
    }
    const std::size_t triangles = model.triangles.size();
    for (std::size_t i = 0; i < triangles; ++i) {
        auto t = model.triangles[i];
        for (auto& corner : t) corner += front;
        model.triangles.push_back(t);
    }
    RenderRequest request = plain_request();
    request.contour_step_mm = 1.0;
    request.undercut_least_mm = 0.01;
    const RenderedPlanes planes = render(texture_test::load(model, map), request);
    // Between the sheets lie 3 mm of nothing, which the relief fills; in the hole nothing is
    // behind.
    CHECK(planes.undercut.empty_mm.at(40, 40) == doctest::Approx(3.0).epsilon(1e-4));
    CHECK(planes.undercut.empty_mm.at(120, 120) == 0.0F);
    CHECK(planes.height_mm.at(120, 120) == doctest::Approx(-3.0).epsilon(1e-4));
    CHECK(planes.height_mm.at(40, 40) == doctest::Approx(0.0).epsilon(1e-4));
    CHECK(planes.coverage.at(120, 120) == 1.0F);
    // The hole's edge is a step of 3 mm, with a line: at 2.5 mm from the middle.
    float line = 0.0F;
    for (int x = 165; x < 176; ++x) line += planes.contour.at(x, 120);
    CHECK(line == doctest::Approx(1.0).epsilon(0.15));  // one pixel wide, on samples
}

TEST_CASE("a map much finer than a pixel is its mean, without speckle") {
    // Some 3 waves to a pixel, out of step with it, over a constant lean.
    const std::string map = normal_map(64, 64, [](double u, double v) {
        return glm::dvec2(0.2 + 0.5 * std::sin(tau * 16 * u), 0.5 * std::sin(tau * 16 * v));
    });
    const RenderRequest request = plain_request();
    const RenderedPlanes planes = render(texture_test::load(sheet(size_mm, 3, 37.3), map), request);
    double least = 1.0, most = -1.0;
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2) {
        least = std::min<double>(least, planes.normal_x.at(x, y));
        most = std::max<double>(most, planes.normal_x.at(x, y));
    });
    // The mean of unit normals leans a little less than the mean slope: by at most 3/4 of the mean
    // square of the waves, 9 % here. One point sample a pixel would swing by 0.4.
    const double nx = 0.2 / std::sqrt(1.04);
    CHECK(least > -nx - 0.01);
    CHECK(most < -0.9 * nx);
    CHECK(most - least < 0.02);
}

TEST_CASE("a mirrored repeat turns the slopes around, a clamped one keeps the edge's") {
    Textured model = sheet(size_mm, 3, 2.0);
    model.sampler = R"({"wrapS": 33648, "wrapT": 33071})";  // MIRRORED_REPEAT, CLAMP_TO_EDGE
    const std::string map =
        normal_map(64, 64, [](double, double v) { return glm::dvec2(0.3, v > 0.5 ? 0.2 : -0.2); });
    const RenderRequest request = plain_request();
    const RenderedPlanes planes = render(texture_test::load(model, map), request);
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2 at) {
        if (std::fabs(at.x) < 0.3 || at.y < -2.0) return;
        const double length = std::sqrt(1.0 + 0.09 + 0.04);
        REQUIRE(std::fabs(planes.normal_x.at(x, y) - (at.x < 0 ? -0.3 : 0.3) / length) < 2e-3);
        REQUIRE(std::fabs(planes.normal_y.at(x, y) + 0.2 / length) < 2e-3);
    });
}

TEST_CASE("places on pictures are true to perspective, and cut triangles keep theirs") {
    // Two triangles against so many that a straight interpolation on each is as good as true.
    const std::string map = normal_map(128, 128, [](double u, double v) {
        return glm::dvec2(0.3 * std::sin(tau * 4 * u), 0.3 * std::sin(tau * 3 * v));
    });
    for (const double eye_mm : {14.0, 4.5}) {  // the second reaches behind the eye
        RenderRequest request = plain_request();
        request.camera.projection = Projection::perspective;
        request.camera.eye_mm = eye_mm;
        const double c = std::cos(1.0), s = std::sin(1.0);
        request.camera.view_from_model = glm::dmat3(1, 0, 0, 0, c, s, 0, -s, c);
        const RenderedPlanes coarse = render(texture_test::load(sheet(size_mm, 1), map), request);
        const RenderedPlanes fine = render(texture_test::load(sheet(size_mm, 300), map), request);
        CHECK(differing(coarse, fine, coarse.normal_x, fine.normal_x, 3e-3) < 0.002);
        CHECK(differing(coarse, fine, coarse.normal_y, fine.normal_y, 3e-3) < 0.002);
        CHECK(spread(fine.normal_x) > 0.3);
    }
}

TEST_CASE("seen from behind, what rises sinks") {
    const double a = 0.1;
    RenderRequest request = plain_request();
    request.texture.in_depth = true;
    request.camera.view_from_model = glm::dmat3(-1, 0, 0, 0, 1, 0, 0, 0, -1);
    const RenderedPlanes mapped =
        render(texture_test::load(sheet(size_mm, 3), wave_map(a)), request);
    const RenderedPlanes real = render(texture_test::load(real_waves(a), ""), request);
    for_inner(request, 0.2, [&](int x, int y, glm::dvec2) {
        REQUIRE(std::fabs(mapped.normal_x.at(x, y) - real.normal_x.at(x, y)) < 3e-3);
        REQUIRE(std::fabs(mapped.height_mm.at(x, y) - real.height_mm.at(x, y)) < 0.06 * a);
    });
}

TEST_CASE("detail is the same bytes whatever the strips, and the same for a turned camera") {
    const std::string map = normal_map(96, 80, [](double u, double v) {
        return glm::dvec2(0.4 * std::sin(tau * 7 * u + 3 * v), 0.3 * std::cos(tau * 5 * v));
    });
    const Mesh mesh = texture_test::load(sheet(size_mm, 12, 1.7), map);
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = request_of(projection);
        request.camera.view_from_model = glm::dmat3(0.8, 0.0, -0.6, 0.0, 1.0, 0.0, 0.6, 0.0, 0.8);
        request.texture.in_depth = true;
        const RenderedPlanes one = render(mesh, request);
        const RenderedPlanes many = render(mesh, request, 1);
        CHECK(one.normal_x.values == many.normal_x.values);
        CHECK(one.height_mm.values == many.height_mm.values);
        CHECK(one.occlusion.values == many.occlusion.values);
        CHECK(one.curvature.values == many.curvature.values);
        CHECK(spread(one.occlusion) > 0.05);
    }
}
