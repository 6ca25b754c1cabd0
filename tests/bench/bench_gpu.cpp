// rakelight_bench_gpu SCENE...: what each step of a picture costs on this machine's GPU, by the
// GPU's own clock, with fragment and with compute shaders, and what the processor adds. Prints the
// least of several renders of each, and how far the two pictures are apart.

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "batch/job.hpp"
#include "render/graphics_renderer.hpp"

using namespace rakelight;

namespace {

constexpr int runs = 8;

using Steps = std::vector<std::pair<std::string, double>>;

// The least of each step.
void keep_least(Steps& least, const Steps& now) {
    if (least.empty()) least = now;
    for (std::size_t i = 0; i < least.size(); ++i) {
        least[i].second = std::min(least[i].second, now.at(i).second);
    }
}

RenderedPlanes measure(Renderer& renderer, const RenderRequest& request, const char* name) {
    Steps least;
    RenderedPlanes planes;
    for (int run = 0; run < runs; ++run) {
        RenderTimes times;
        const auto start = std::chrono::steady_clock::now();
        renderer.render(
            request, [&](const RenderedPlanes& rows, int) { planes = rows; }, &times);
        const std::chrono::duration<double> wall = std::chrono::steady_clock::now() - start;
        Steps now = times.gpu_s;
        now.insert(now.end(), {{"| wall: raster", times.raster_s},
                               {"occlusion", times.occlusion_s},
                               {"curvature", times.curvature_s},
                               {"read_back", times.read_back_s},
                               {"all", wall.count()}});
        if (run == 0) std::printf("%s, first: %.1f ms\n", name, 1e3 * wall.count());
        keep_least(least, now);
    }
    std::printf("%s, ms:", name);
    for (const auto& [step, seconds] : least) std::printf(" %s %.2f", step.c_str(), 1e3 * seconds);
    std::printf("\n");
    return planes;
}

void compare(const char* name, const Plane& a, const Plane& b, double limit) {
    double largest = 0.0;
    double sum = 0.0;
    std::size_t beyond = 0;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        const double apart = std::fabs(double{a.values[i]} - b.values[i]);
        largest = std::max(largest, apart);
        sum += apart;
        beyond += apart > limit ? 1 : 0;
    }
    const auto count = static_cast<double>(std::max<std::size_t>(a.values.size(), 1));
    std::printf("  %s: mean %.2g, largest %.2g, beyond %g: %zu\n", name, sum / count, largest,
                limit, beyond);
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<PreparedScene> scenes;
    for (int i = 1; i < argc; ++i) scenes.push_back(prepare_scene(read_scene(argv[i]), {}));
    const auto context = open_context(ContextChoice::automatic);
    std::printf("%s, OpenGL %s\n", context->facts().renderer.c_str(),
                context->facts().gl_version.c_str());
    GraphicsRenderer fragment(*context, PassDevice::graphics);
    GraphicsRenderer compute(*context, PassDevice::compute);
    for (const auto& scene : scenes) {
        std::printf("\n%s: %zu triangles, %d x %d pixels, %d samples each\n",
                    scene.scene.name.c_str(), scene.mesh.indices().size() / 3,
                    scene.framing.grid.width, scene.framing.grid.height,
                    scene.scene.image.samples * scene.scene.image.samples);
        fragment.set_mesh(scene.mesh, scene.used);
        compute.set_mesh(scene.mesh, scene.used);
        const RenderRequest request = render_request(scene, BlankGeometry(scene.scene.blank));
        const auto base = measure(fragment, request, "fragment");
        const auto fast = measure(compute, request, "compute");
        compare("coverage", base.coverage, fast.coverage, 1e-6);
        compare("height, mm", base.height_mm, fast.height_mm, 1e-3);
        compare("occlusion", base.occlusion, fast.occlusion, 1e-3);
        compare("curvature, 1/mm", base.curvature, fast.curvature, 1e-2);
        compare("contour", base.contour, fast.contour, 1e-6);
    }
    return 0;
}
