// The passes on the processor against the shaders, on a rendered mesh. Skipped, with a message,
// where no graphics context can be opened.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <numbers>
#include <string>

#include "error.hpp"
#include "model/load.hpp"
#include "render/renderer.hpp"

using namespace rakelight;

namespace {

constexpr int rings = 96;

// A bumpy ball of radius 5 with a shelf around its middle, as a PLY file.
void write_ball(const std::filesystem::path& file) {
    std::ofstream out(file);
    out << "ply\nformat ascii 1.0\nelement vertex " << (rings + 1) * 2 * rings
        << "\nproperty float x\nproperty float y\nproperty float z\nelement face "
        << rings * 2 * rings << "\nproperty list uchar int vertex_indices\nend_header\n";
    for (int j = 0; j <= rings; ++j) {
        const double down = std::numbers::pi * (j + 0.01) / (rings + 0.02);
        for (int i = 0; i < 2 * rings; ++i) {
            const double around = std::numbers::pi * i / rings;
            const double shelf = std::fabs(down - 1.3) < 0.12 ? 0.7 : 0.0;
            const double r = 5.0 + shelf + 0.25 * std::sin(9 * around) * std::sin(7 * down);
            out << r * std::sin(down) * std::cos(around) << ' ' << r * std::cos(down) << ' '
                << r * std::sin(down) * std::sin(around) << '\n';
        }
    }
    for (int j = 0; j < rings; ++j) {
        for (int i = 0; i < 2 * rings; ++i) {
            const int next = (i + 1) % (2 * rings);
            out << "4 " << j * 2 * rings + i << ' ' << j * 2 * rings + next << ' '
                << (j + 1) * 2 * rings + next << ' ' << (j + 1) * 2 * rings + i << '\n';
        }
    }
}

Mesh load_ball() {
    std::string folder_name = std::filesystem::temp_directory_path() / "rakelight-devices-XXXXXX";
    REQUIRE(mkdtemp(folder_name.data()) != nullptr);
    const std::filesystem::path folder = folder_name;
    write_ball(folder / "ball.ply");
    LoadOptions options;
    options.cache.use = false;
    Mesh mesh = load_model(folder / "ball.ply", options);
    std::filesystem::remove_all(folder);
    return mesh;
}

double largest_difference(const Plane& a, const Plane& b) {
    REQUIRE(a.values.size() == b.values.size());
    double largest = 0.0;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        largest = std::max(largest, std::fabs(double{a.values[i]} - b.values[i]));
    }
    return largest;
}

double spread(const Plane& plane) {
    const auto [low, high] = std::minmax_element(plane.values.begin(), plane.values.end());
    return *high - *low;
}

RenderRequest request_of(Projection projection) {
    RenderRequest request;
    request.grid = {220, 180, 20.0, -5.5, 4.5};  // cuts the ball
    request.camera.projection = projection;
    request.camera.eye_mm = 40.0;
    request.camera.picture_mm = {0.3, -0.2};
    request.occlusion_reach_mm = 1.6;
    request.curvature_scale_mm = 0.2;
    return request;
}

}  // namespace

TEST_CASE("the processor and the shaders agree within rounding") {
    const Mesh mesh = load_ball();  // forks: before there is a context
    std::unique_ptr<GraphicsContext> context;
    try {
        context = open_context(ContextChoice::automatic);
    } catch (const Error& refusal) {
        MESSAGE("skipped: " << refusal.what());
        return;
    }
    Renderer renderer(*context);
    renderer.set_mesh(mesh, std::vector<bool>(mesh.parts().size(), true));
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        CAPTURE(static_cast<int>(projection));
        RenderRequest request = request_of(projection);
        request.device = PassDevice::processor;
        const auto here = renderer.render(request);
        request.device = PassDevice::graphics;
        const auto there = renderer.render(request);
        CHECK(largest_difference(here.coverage, there.coverage) == 0.0);
        CHECK(largest_difference(here.height_mm, there.height_mm) == 0.0);
        // Lifts of some 10 mm are rounded to 1e-6 mm, slopes over a pixel of 0.05 mm to 2e-5.
        CHECK(largest_difference(here.occlusion, there.occlusion) < 2e-5);
        // Normals are rounded to 6e-8, and their change over a pixel of 0.05 mm to 2e-6 / mm.
        CHECK(largest_difference(here.curvature, there.curvature) < 1e-5);
        CHECK(spread(here.occlusion) > 0.3);
        CHECK(spread(here.curvature) > 0.3);
    }
}

namespace {

struct Apart {
    double mean;
    double share;  // of the values that differ by more than a limit
};

Apart apart(const Plane& a, const Plane& b, double limit) {
    REQUIRE(a.values.size() == b.values.size());
    Apart apart{0.0, 0.0};
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        const double difference = std::fabs(double{a.values[i]} - b.values[i]);
        apart.mean += difference;
        apart.share += difference > limit ? 1.0 : 0.0;
    }
    apart.mean /= static_cast<double>(a.values.size());
    apart.share /= static_cast<double>(a.values.size());
    return apart;
}

}  // namespace

TEST_CASE("dbg") {
    const Mesh mesh = load_ball();  // forks: before there is a context
    auto context = open_context(ContextChoice::automatic);
    Renderer renderer(*context);
    renderer.set_mesh(mesh, std::vector<bool>(mesh.parts().size(), true));
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = request_of(projection);
        request.contour_step_mm = 0.2;
        request.mask_parts = {0};
        request.device = PassDevice::graphics;
        const auto a = renderer.render(request);
        request.device = PassDevice::compute;
        const auto b = renderer.render(request);
        auto show = [](const char* n, const Plane& p, const Plane& q, double limit) {
            auto d = apart(p, q, limit);
            MESSAGE(n << " max " << largest_difference(p, q) << " mean " << d.mean << " share " << d.share << " spread " << spread(p) << " " << spread(q));
        };
        show("coverage", a.coverage, b.coverage, 1e-3);
        show("height", a.height_mm, b.height_mm, 1e-4);
        show("nx", a.normal_x, b.normal_x, 1e-3);
        show("ny", a.normal_y, b.normal_y, 1e-3);
        show("nz", a.normal_z, b.normal_z, 1e-3);
        show("occlusion", a.occlusion, b.occlusion, 1e-3);
        show("curvature", a.curvature, b.curvature, 1e-3);
        show("contour", a.contour, b.contour, 1e-3);
        show("mask", a.masks[0], b.masks[0], 1e-3);
    }
}
