#include "floors.hpp"

#include "batch/passes.hpp"
#include "subject.hpp"

namespace bench {
namespace {

struct Floor {
    rakelight::RenderTimes times;
    Cost cost;
};

Floor floor_of(rakelight::Renderer& renderer, const rakelight::RenderRequest& request) {
    Floor floor;
    floor.cost = cost_here([&] {
        renderer.render(
            request, [](const rakelight::RenderedPlanes&, int) {}, &floor.times);
    });
    return floor;
}

}  // namespace

Json render_floors(rakelight::Renderer& renderer, const rakelight::PreparedScene& scene) {
    rakelight::RenderRequest bare = bare_request(scene);
    rakelight::RenderRequest with_occlusion = bare, with_curvature = bare;
    const rakelight::BlankGeometry blank(scene.scene.blank);
    with_occlusion.occlusion_reach_mm =
        rakelight::occlusion_reach_mm(*scene.scene.passes.occlusion, blank);
    with_curvature.curvature_scale_mm = scene.scene.passes.curvature->scale_mm;
    const Floor surface = floor_of(renderer, bare);
    const Floor occlusion = floor_of(renderer, with_occlusion);
    const Floor curvature = floor_of(renderer, with_curvature);
    return {{"raster_s", surface.times.raster_s},
            {"read_back_s", surface.times.read_back_s},
            {"occlusion_s", occlusion.times.occlusion_s},
            {"curvature_s", curvature.times.curvature_s},
            {"surface_cpu_s", surface.cost.cpu_s},
            {"occlusion_cpu_s", occlusion.cost.cpu_s - surface.cost.cpu_s}};
}

}  // namespace bench
