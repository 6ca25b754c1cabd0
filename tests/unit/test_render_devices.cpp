// The passes on the processor against the shaders, on a rendered mesh. Skipped, with a message,
// where no graphics context can be opened.

#include <doctest/doctest.h>

#include <memory>

#include "error.hpp"
#include "render/graphics_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

TEST_CASE("the processor and the shaders agree within rounding") {
    const Mesh mesh = load_ball();  // forks: before there is a context
    std::unique_ptr<GraphicsContext> context;
    try {
        context = open_context(ContextChoice::automatic);
    } catch (const Error& refusal) {
        MESSAGE("skipped: " << refusal.what());
        return;
    }
    GraphicsRenderer on_processor(*context, PassDevice::processor);
    GraphicsRenderer on_graphics(*context, PassDevice::graphics);
    GraphicsRenderer in_compute(*context, PassDevice::compute);
    in_compute.set_mesh(mesh, all_parts(mesh));
    on_processor.set_mesh(mesh, all_parts(mesh));
    on_graphics.set_mesh(mesh, all_parts(mesh));
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        CAPTURE(static_cast<int>(projection));
        const RenderRequest request = request_of(projection);
        const auto here = whole(on_processor, request);
        const auto there = whole(on_graphics, request);
        const auto computed = whole(in_compute, request);
        CHECK(largest_difference(here.coverage, there.coverage) == 0.0);
        CHECK(largest_difference(here.height_mm, there.height_mm) == 0.0);
        // Lifts of some 10 mm are rounded to 1e-6 mm, slopes over a pixel of 0.05 mm to 2e-5.
        CHECK(largest_difference(here.occlusion, there.occlusion) < 2e-5);
        // Normals are rounded to 6e-8, and their change over a pixel of 0.05 mm to 2e-6 / mm.
        CHECK(largest_difference(here.curvature, there.curvature) < 1e-5);
        // Compute shaders raster the mesh too, by another rule of rounding: outlines may move.
        CHECK(differing(computed, there, computed.occlusion, there.occlusion, 2e-3) < 0.005);
        CHECK(differing(computed, there, computed.height_mm, there.height_mm, 2e-4) < 0.005);
        CHECK(differing(computed, there, computed.coverage, there.coverage, 0.5 / 16.0) < 0.002);
        CHECK(differing(computed, there, computed.normal_x, there.normal_x, 5e-4) < 0.005);
        CHECK(spread(here.occlusion) > 0.3);
        CHECK(spread(here.curvature) > 0.3);
    }
}
