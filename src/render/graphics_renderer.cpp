#include "render/graphics_renderer.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "error.hpp"
#include "interrupt.hpp"
#include "render/curvature.hpp"
#include "render/curvature_processor.hpp"
#include "render/depth_steps.hpp"
#include "render/gbuffer.hpp"
#include "render/occlusion.hpp"
#include "render/occlusion_processor.hpp"
#include "render/rendered_rows.hpp"
#include "render/subject_area.hpp"

namespace rakelight {
namespace {

// Waits for the GPU only when somebody wants the time.
class StepClock {
public:
    explicit StepClock(bool wanted) : wanted_(wanted), last_(Clock::now()) {}
    double lap() {
        if (!wanted_) return 0.0;
        glFinish();
        const auto now = Clock::now();
        const double seconds = std::chrono::duration<double>(now - last_).count();
        last_ = now;
        return seconds;
    }

private:
    using Clock = std::chrono::steady_clock;
    bool wanted_;
    Clock::time_point last_;
};

// The maps of a work area in memory, rows from the top.
struct ReadMaps {
    std::vector<float> lift_mm;
    std::vector<float> normal_coverage;
    std::vector<float> lift_range_mm;
    int width = 0;
    int height = 0;

    SurfaceMaps view() const {
        return {lift_mm.data(), normal_coverage.data(), lift_range_mm.data(), width, height};
    }
};

std::vector<float> read_map(const Texture& texture, GLenum format, int channels) {
    const Framebuffer source({{&texture}}, nullptr);
    const auto count = static_cast<std::size_t>(texture.width()) * texture.height() * channels;
    std::vector<float> values(count);
    source.read(0, format, texture.width(), texture.height(), values.data());
    return values;
}

std::vector<float> read_values(const Texture& texture) {
    return read_map(texture, GL_RED, 1);
}

ReadMaps read_maps(const PixelMaps& maps) {
    return {read_values(maps.lift), read_map(maps.normal_coverage, GL_RGBA, 4),
            read_map(maps.lift_range, GL_RG, 2), maps.lift.width(), maps.lift.height()};
}

void place_extras(const GBufferExtras& extras, const WorkArea& area, const ImageGrid& grid,
                  RenderedPlanes& planes) {
    if (extras.contour) {
        planes.contour = plane_from(read_values(*extras.contour), area.rect, grid, 0.0F);
    }
    for (std::size_t i = 0; i < extras.masks.size(); ++i) {
        planes.masks[i] = plane_from(read_values(extras.masks[i]), area.rect, grid, 0.0F);
    }
}

void refuse_size(const PixelRect& rect, int limit) {
    if (rect.width <= limit && rect.height <= limit) return;
    throw Error(ExitCode::no_graphics, "the picture needs maps of " + std::to_string(rect.width) +
                                           " x " + std::to_string(rect.height) +
                                           " pixels, and this graphics driver goes to " +
                                           std::to_string(limit) + "; lower image.px_per_mm");
}

}  // namespace

struct GraphicsRenderer::Parts {
    Parts(const GraphicsFacts& of_context, PassDevice device)
        : facts(of_context),
          max_px(std::min(facts.max_texture_px, facts.max_viewport_px)),
          passes_on_processor(device == PassDevice::processor ||
                              (device == PassDevice::automatic && facts.software)),
          gbuffer(max_px) {}

    GraphicsFacts facts;
    int max_px;
    bool passes_on_processor;
    std::optional<GpuMesh> mesh;
    GBuffer gbuffer;
    OcclusionPassGpu occlusion;
    CurvaturePassGpu curvature;
};

/// One picture on its way: what its passes work on.
struct GraphicsRenderer::Picture {
    const RenderRequest& request;
    WorkArea area;
    PixelMaps maps;
    ReadMaps read;
    std::vector<std::uint8_t> mixed;
};

GraphicsRenderer::GraphicsRenderer(const GraphicsContext& context, PassDevice device)
    : parts_(std::make_unique<Parts>(context.facts(), device)) {
    glPixelStorei(GL_UNPACK_ALIGNMENT, 4);
    glDisable(GL_BLEND);
    glDisable(GL_CULL_FACE);
    glDisable(GL_DITHER);
}

GraphicsRenderer::~GraphicsRenderer() = default;

void GraphicsRenderer::set_mesh(const Mesh& mesh, const std::vector<bool>& used) {
    parts_->mesh.emplace(mesh, used);
}

Plane GraphicsRenderer::occlusion(const Picture& picture) {
    const auto& [request, area, maps, read, mixed] = picture;
    const double reach_mm = *request.occlusion_reach_mm;
    const double px_per_mm = largest_px_per_mm(request.camera, request.grid, area.top_mm);
    const OcclusionWalk walk = make_occlusion_walk(reach_mm * px_per_mm);
    std::vector<float> open;
    if (parts_->passes_on_processor) {
        OcclusionOnProcessor here(walk, reach_mm, request.camera, request.grid, area);
        here.add_rows(read.view());
        open = here.open(read.view());
    } else {
        open = read_values(
            parts_->occlusion.draw(walk, reach_mm, request.camera, request.grid, area, maps));
    }
    blend_mixed_pixels(read.view(), mixed, open);
    return plane_from(open, area.rect, request.grid, 1.0F);
}

Plane GraphicsRenderer::curvature(const Picture& picture) {
    const auto& [request, area, maps, read, mixed] = picture;
    const double scale_mm = *request.curvature_scale_mm;
    std::vector<float> curved;
    if (parts_->passes_on_processor) {
        curved = curvature_on_processor(scale_mm, request.camera, request.grid, area, read.view(),
                                        mixed);
    } else {
        curved =
            read_values(parts_->curvature.draw(scale_mm, request.camera, request.grid, area, maps));
    }
    blend_mixed_pixels(read.view(), mixed, curved);
    return plane_from(curved, area.rect, request.grid, 0.0F);
}

const GraphicsFacts& GraphicsRenderer::facts(const RenderRequest&) const {
    return parts_->facts;
}

bool GraphicsRenderer::holds(const RenderRequest& request) const {
    const PixelRect rect = area_of(request, parts_->mesh->clusters()).rect;
    return rect.width <= parts_->max_px && rect.height <= parts_->max_px;
}

void GraphicsRenderer::render(const RenderRequest& request, const RowSink& sink,
                              RenderTimes* times) {
    sink(render_whole(request, times), 0);
}

RenderedPlanes GraphicsRenderer::render_whole(const RenderRequest& request, RenderTimes* times) {
    RenderedPlanes planes = empty_planes(request, request.grid);
    const WorkArea area = area_of(request, parts_->mesh->clusters());
    if (area.is_empty()) return planes;  // nothing near the picture
    refuse_size(area.rect, parts_->max_px);

    StepClock clock(times != nullptr);
    RenderTimes spent;
    Picture picture{request, area, PixelMaps(area), {}, {}};
    const auto extras = parts_->gbuffer.draw(*parts_->mesh,
                                             {request.camera, request.grid, area, request.samples,
                                              request.contour_step_mm, request.mask_parts},
                                             picture.maps);
    spent.raster_s = clock.lap();
    picture.read = read_maps(picture.maps);
    picture.mixed = mixed_pixels(picture.read.view(), request.grid.px_per_mm);
    place_surface(picture.read.view(), area, request.grid, planes);
    place_extras(extras, area, request.grid, planes);
    spent.read_back_s = clock.lap();
    stop_if_interrupted();
    if (request.occlusion_reach_mm) planes.occlusion = occlusion(picture);
    spent.occlusion_s = clock.lap();
    stop_if_interrupted();
    if (request.curvature_scale_mm) planes.curvature = curvature(picture);
    spent.curvature_s = clock.lap();
    if (times != nullptr) *times = spent;
    return planes;
}

}  // namespace rakelight
