// The passes on the processor against the shaders, fragment against compute shaders, and the raster
// in compute shaders against OpenGL's own and against closed forms. Skipped, with a message, where
// no graphics context can be opened, or one without compute shaders.

#include <doctest/doctest.h>

#include <memory>

#include "error.hpp"
#include "render/graphics_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

// The surface |x| + |y| + |z| = radius, of eight triangles.
void write_octahedron(const std::filesystem::path& file, double radius) {
    std::ofstream out(file);
    out << "ply\nformat ascii 1.0\nelement vertex 6\nproperty float x\nproperty float y\n"
           "property float z\nelement face 8\nproperty list uchar int vertex_indices\nend_header\n";
    for (int axis = 0; axis < 3; ++axis) {
        for (const double end : {radius, -radius}) {
            double corner[3] = {0.0, 0.0, 0.0};
            corner[axis] = end;
            out << corner[0] << ' ' << corner[1] << ' ' << corner[2] << '\n';
        }
    }
    for (int side = 0; side < 8; ++side) {
        const int x = side & 1;
        const int y = 2 + (side >> 1 & 1);
        const int z = 4 + (side >> 2);
        const bool mirrored = ((side & 1) + (side >> 1 & 1) + (side >> 2)) % 2 != 0;
        out << "3 " << x << ' ' << (mirrored ? z : y) << ' ' << (mirrored ? y : z) << '\n';
    }
}

// The share of values that differ by more than a limit.
double share_beyond(const Plane& a, const Plane& b, double limit) {
    REQUIRE(a.values.size() == b.values.size());
    std::size_t beyond = 0;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        beyond += std::fabs(double{a.values[i]} - b.values[i]) > limit ? 1 : 0;
    }
    return static_cast<double>(beyond) / static_cast<double>(a.values.size());
}

std::unique_ptr<GraphicsRenderer> renderer_on(const GraphicsContext& context, const Mesh& mesh,
                                              PassDevice device,
                                              std::optional<PassDevice> raster = {}) {
    auto renderer = std::make_unique<GraphicsRenderer>(context, device, raster);
    renderer->set_mesh(mesh, all_parts(mesh));
    return renderer;
}

constexpr Projection projections[] = {Projection::parallel, Projection::perspective};

// Where a pixel's centre lies on the blank, from the view axis.
glm::dvec2 from_axis(const RenderRequest& request, int x, int y) {
    return request.grid.centre_of(x, y) - request.camera.picture_mm;
}

// Every pixel well inside a closed surface's outline is covered whole.
void check_no_gaps(const RenderRequest& request, const Plane& coverage, double inside_mm) {
    std::size_t gaps = 0;
    std::size_t pixels = 0;
    for (int y = 0; y < request.grid.height; ++y) {
        for (int x = 0; x < request.grid.width; ++x) {
            if (glm::length(from_axis(request, x, y)) > inside_mm) continue;
            ++pixels;
            gaps += coverage.values[static_cast<std::size_t>(y) * request.grid.width + x] != 1.0F;
        }
    }
    CHECK(pixels > 150);
    CHECK(gaps == 0);
}

// Passes made of the same samples in two ways.
void check_passes_agree(const RenderedPlanes& a, const RenderedPlanes& b) {
    CHECK(largest_difference(a.coverage, b.coverage) == 0.0);
    CHECK(largest_difference(a.height_mm, b.height_mm) == 0.0);
    // Lifts of some 10 mm are rounded to 1e-6 mm, slopes over a pixel of 0.05 mm to 2e-5.
    CHECK(largest_difference(a.occlusion, b.occlusion) < 2e-5);
    // Normals are rounded to 6e-8, and their change over a pixel of 0.05 mm to 2e-6 / mm.
    CHECK(largest_difference(a.curvature, b.curvature) < 1e-5);
    CHECK(spread(a.occlusion) > 0.3);
    CHECK(spread(a.curvature) > 0.3);
}

}  // namespace

TEST_CASE("the processor and the shaders agree within rounding") {
    const Mesh mesh = load_ball();  // forks: before there is a context
    const auto context = context_or_skip(false);
    if (!context) return;
    const auto on_processor = renderer_on(*context, mesh, PassDevice::processor);
    const auto on_graphics = renderer_on(*context, mesh, PassDevice::graphics);
    for (const Projection projection : projections) {
        CAPTURE(static_cast<int>(projection));
        const RenderRequest request = request_of(projection);
        check_passes_agree(whole(*on_processor, request), whole(*on_graphics, request));
    }
}

TEST_CASE("passes in compute and in fragment shaders agree within rounding") {
    const Mesh mesh = load_ball();
    const auto context = context_or_skip(true);
    if (!context) return;
    // Both of the same samples.
    const auto on_graphics = renderer_on(*context, mesh, PassDevice::graphics);
    const auto in_compute = renderer_on(*context, mesh, PassDevice::compute, PassDevice::graphics);
    for (const Projection projection : projections) {
        CAPTURE(static_cast<int>(projection));
        const RenderRequest request = request_of(projection);
        check_passes_agree(whole(*on_graphics, request), whole(*in_compute, request));
    }
}

// OpenGL 4.1 core, section 3.6.1: each sample inside a polygon is drawn, one on a shared edge for
// exactly one of both polygons. Places are rounded to 1/256 of a sample here, to as little as 1/16
// by OpenGL (table 6.53, SUBPIXEL_BITS), so that of the samples at an outline, one to each of its
// pixels' rows, some change; and a height by that distance times the slope.
TEST_CASE("the raster in compute shaders draws what OpenGL's own does") {
    const Mesh mesh = load_ball();
    const auto context = context_or_skip(true);
    if (!context) return;
    const auto on_graphics = renderer_on(*context, mesh, PassDevice::graphics);
    const auto in_compute = renderer_on(*context, mesh, PassDevice::compute);
    for (const Projection projection : projections) {
        for (const int samples : {1, 3, 4, 7}) {
            CAPTURE(static_cast<int>(projection));
            CAPTURE(samples);
            RenderRequest request = request_of(projection);
            request.grid = {110, 90, 10.0, -5.5, 4.5};
            request.samples = samples;
            request.contour_step_mm = 0.2;
            request.mask_parts = {0};
            const auto own = whole(*on_graphics, request);
            const auto ours = whole(*in_compute, request);
            // The outline and the shelf's steps run through 5 % of the pixels.
            CHECK(share_beyond(own.coverage, ours.coverage, 0.0) < 0.005);
            CHECK(share_beyond(own.height_mm, ours.height_mm, 5e-3) < 0.01);
            CHECK(share_beyond(own.normal_z, ours.normal_z, 5e-3) < 0.01);
            CHECK(share_beyond(own.contour, ours.contour, 0.0) < 0.01);
            CHECK(largest_difference(ours.coverage, ours.masks.at(0)) == 0.0);  // it has one part
            CHECK(spread(ours.contour) == 1.0);
            check_no_gaps(request, ours.coverage, 4.0);
            const auto again = whole(*in_compute, request);
            CHECK(largest_difference(ours.height_mm, again.height_mm) == 0.0);
            CHECK(largest_difference(ours.normal_x, again.normal_x) == 0.0);
        }
    }
}

// Triangles of 350 to 2300 samples: those that bins list, and those that all bins look at; drawn in
// doubles. In parallel projection a pixel within one face shows the face's own plane at its centre.
TEST_CASE("the raster in compute shaders draws large triangles exactly") {
    constexpr double radius = 4.0;
    const Mesh mesh = load_written([](const auto& file) { write_octahedron(file, radius); });
    const auto context = context_or_skip(true);
    if (!context) return;
    const auto in_compute = renderer_on(*context, mesh, PassDevice::compute);
    for (const Projection projection : projections) {
        for (const double px_per_mm : {22.0, 72.0}) {
            CAPTURE(static_cast<int>(projection));
            CAPTURE(px_per_mm);
            RenderRequest request;
            request.camera.projection = projection;
            request.camera.eye_mm = 40.0;
            request.samples = px_per_mm > 50.0 ? 8 : 4;
            request.grid = {60, 50, px_per_mm, 0.013, 1.117};
            const auto planes = whole(*in_compute, request);
            check_no_gaps(request, planes.coverage, 2.0);
            if (projection == Projection::perspective) continue;
            double worst_mm = 0.0;
            for (int y = 0; y < request.grid.height; ++y) {
                for (int x = 0; x < request.grid.width; ++x) {
                    const glm::dvec2 at = glm::abs(from_axis(request, x, y));
                    if (std::min(at.x, at.y) * px_per_mm < 0.5) continue;  // two faces
                    const std::size_t i = static_cast<std::size_t>(y) * request.grid.width + x;
                    worst_mm = std::max(
                        worst_mm, std::fabs(planes.height_mm.values[i] - (radius - at.x - at.y)));
                }
            }
            // The slope, sqrt 2, times 1/256 of a sample across; lifts of 8 mm round to 5e-7.
            CHECK(worst_mm < 1.5 / (256.0 * px_per_mm * request.samples) + 5e-6);
        }
    }
}

TEST_CASE("samples on the edge of two triangles are drawn") {
    const Mesh mesh = load_written([](const auto& file) { write_octahedron(file, 4.0); });
    const auto context = context_or_skip(true);
    if (!context) return;
    const auto in_compute = renderer_on(*context, mesh, PassDevice::compute);
    for (const double px_per_mm : {4.0, 20.0}) {  // triangles of 64 and of 320 samples
        CAPTURE(px_per_mm);
        RenderRequest request;
        // A column and a row of samples lie on the edges that meet in the middle.
        const double half_sample_mm = 0.5 / (4.0 * px_per_mm);
        const int side = static_cast<int>(2.0 * px_per_mm);
        request.grid = {2 * side, 2 * side, px_per_mm, -2.0 - half_sample_mm, 2.0 + half_sample_mm};
        check_no_gaps(request, whole(*in_compute, request).coverage, 2.0);
    }
}
