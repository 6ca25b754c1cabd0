#include "render/graphics_renderer.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <span>

#include "error.hpp"
#include "interrupt.hpp"
#include "render/curvature.hpp"
#include "render/curvature_processor.hpp"
#include "render/depth_steps.hpp"
#include "render/gbuffer.hpp"
#include "render/occlusion.hpp"
#include "render/occlusion_processor.hpp"
#include "render/read_back.hpp"
#include "render/rendered_rows.hpp"
#include "render/subject_area.hpp"
#include "stopwatch.hpp"

namespace rakelight {
namespace {

// Waits for the GPU only when somebody wants the time.
class StepClock {
public:
    explicit StepClock(bool wanted) : wanted_(wanted) {}
    double lap() {
        if (!wanted_) return 0.0;
        glFinish();
        return watch_.lap();
    }

private:
    bool wanted_;
    Stopwatch watch_;
};

// The maps of a work area in memory, rows from the top.
struct ReadMaps {
    std::span<const float> lift_mm;
    std::span<const float> normal_coverage;
    std::span<const float> lift_range_mm;
    int width = 0;
    int height = 0;

    SurfaceMaps view() const {
        return {lift_mm.data(), normal_coverage.data(), lift_range_mm.data(), width, height};
    }
};

std::vector<float> copy_of(std::span<const float> values) {
    return {values.begin(), values.end()};
}

// What has been asked of the read-back: the maps in one read, or each in its own.
struct MapReads {
    std::optional<std::size_t> maps;
    std::size_t lift = 0;
    std::size_t normal_coverage = 0;
    std::size_t lift_range = 0;
    std::optional<std::size_t> contour;
    std::vector<std::size_t> masks;
};

MapReads start_reads(ReadBack& read_back, const PixelMaps& maps, const GBufferExtras& extras) {
    MapReads reads;
    if (extras.maps) {
        reads.maps = read_back.start(*extras.maps);
    } else {
        reads.lift = read_back.start(maps.lift, GL_RED);
        reads.normal_coverage = read_back.start(maps.normal_coverage, GL_RGBA);
        reads.lift_range = read_back.start(maps.lift_range, GL_RG);
    }
    if (extras.contour) reads.contour = read_back.start(*extras.contour);
    for (const auto& mask : extras.masks) reads.masks.push_back(read_back.start(mask));
    return reads;
}

ReadMaps finish_maps(ReadBack& read_back, const MapReads& reads, const PixelMaps& maps) {
    const int width = maps.lift.width();
    const int height = maps.lift.height();
    if (reads.maps) {
        const auto all = read_back.finish(*reads.maps);
        const std::size_t pixels = all.size() / 7;
        return {all.first(pixels), all.subspan(pixels, 4 * pixels), all.subspan(5 * pixels), width,
                height};
    }
    return {read_back.finish(reads.lift), read_back.finish(reads.normal_coverage),
            read_back.finish(reads.lift_range), width, height};
}

void place_extras(ReadBack& read_back, const MapReads& reads, const WorkArea& area,
                  const ImageGrid& grid, RenderedPlanes& planes) {
    if (reads.contour) {
        place_map(read_back.finish(*reads.contour).data(), area.rect, grid, planes.contour);
    }
    for (std::size_t i = 0; i < reads.masks.size(); ++i) {
        place_map(read_back.finish(reads.masks[i]).data(), area.rect, grid, planes.masks[i]);
    }
}

bool fits(const PixelRect& rect, int limit) {
    return rect.width <= limit && rect.height <= limit;
}

void refuse_size(const PixelRect& rect, int limit) {
    if (fits(rect, limit)) return;
    throw Error(ExitCode::no_graphics, "the picture needs maps of " + std::to_string(rect.width) +
                                           " x " + std::to_string(rect.height) +
                                           " pixels, and this graphics driver goes to " +
                                           std::to_string(limit) + "; lower image.px_per_mm");
}

}  // namespace

struct GraphicsRenderer::Parts {
    Parts(const GraphicsFacts& of_context, PassDevice wanted, PassDevice raster)
        : facts(of_context),
          max_px(std::min(facts.max_texture_px, facts.max_viewport_px)),
          passes_on_processor(wanted == PassDevice::processor ||
                              (wanted == PassDevice::automatic && facts.software)),
          kind(kind_of(wanted)),
          raster_kind(kind_of(raster)),
          gbuffer(max_px) {}

    ShaderKind kind_of(PassDevice device) const {
        const bool compute =
            device == PassDevice::compute || (device == PassDevice::automatic && !facts.software);
        return compute ? ShaderKind::compute : ShaderKind::fragment;
    }

    GraphicsFacts facts;
    int max_px;
    bool passes_on_processor;
    ShaderKind kind;
    ShaderKind raster_kind;
    std::optional<GpuMesh> mesh;
    GBuffer gbuffer;
    OcclusionPassGpu occlusion;
    CurvaturePassGpu curvature;
    ReadBack read_back;
};

/// One picture on its way: what its passes work on.
struct GraphicsRenderer::Picture {
    const RenderRequest& request;
    WorkArea area;
    PixelMaps maps;
    ReadMaps read;
    std::vector<std::uint8_t> mixed;
    struct Drawn {  // reads of what the GPU has drawn
        std::optional<std::size_t> occlusion;
        std::optional<std::size_t> curvature;
    } drawn;
};

GraphicsRenderer::GraphicsRenderer(const GraphicsContext& context, PassDevice device,
                                   std::optional<PassDevice> raster)
    : parts_(std::make_unique<Parts>(context.facts(), device, raster.value_or(device))) {
    glPixelStorei(GL_UNPACK_ALIGNMENT, 4);
    glDisable(GL_BLEND);
    glDisable(GL_CULL_FACE);
    glDisable(GL_DITHER);
}

GraphicsRenderer::~GraphicsRenderer() = default;

void GraphicsRenderer::set_mesh(const Mesh& mesh, const std::vector<bool>& used) {
    parts_->mesh.emplace(mesh, used);
}

// Asks the GPU for the passes that are its own, before the processor turns to what it has read.
void GraphicsRenderer::draw_passes(Picture& picture, GpuClock& gpu) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    if (parts_->passes_on_processor) return;
    const ShaderKind kind = parts_->kind;
    std::optional<Drawn> open;
    std::optional<Drawn> curved;
    gpu.start();
    if (request.occlusion_reach_mm) {
        open = parts_->occlusion.draw(walk_of(request, area), *request.occlusion_reach_mm,
                                      request.camera, request.grid, area, maps, kind);
    }
    gpu.end("occlusion");
    if (request.curvature_scale_mm) {
        curved = parts_->curvature.draw(*request.curvature_scale_mm, request.camera, request.grid,
                                        area, maps, kind);
    }
    gpu.end("curvature");
    if (open) picture.drawn.occlusion = parts_->read_back.start(*open);
    if (curved) picture.drawn.curvature = parts_->read_back.start(*curved);
    gpu.end("read_passes");
}

void GraphicsRenderer::occlusion(const Picture& picture, Plane& plane) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    std::vector<float> open;
    if (drawn.occlusion) {
        open = copy_of(parts_->read_back.finish(*drawn.occlusion));
    } else {
        OcclusionOnProcessor here(walk_of(request, area), *request.occlusion_reach_mm,
                                  request.camera, request.grid, area);
        here.add_rows(read.view());
        open = here.open(read.view());
    }
    blend_mixed_pixels(read.view(), mixed, open);
    place_map(open.data(), area.rect, request.grid, plane);
}

void GraphicsRenderer::curvature(const Picture& picture, Plane& plane) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    std::vector<float> curved;
    if (drawn.curvature) {
        curved = copy_of(parts_->read_back.finish(*drawn.curvature));
    } else {
        curved = curvature_on_processor(*request.curvature_scale_mm, request.camera, request.grid,
                                        area, read.view(), mixed);
    }
    blend_mixed_pixels(read.view(), mixed, curved);
    place_map(curved.data(), area.rect, request.grid, plane);
}

const GraphicsFacts& GraphicsRenderer::facts(const RenderRequest&) const {
    return parts_->facts;
}

bool GraphicsRenderer::holds(const RenderRequest& request) const {
    return fits(area_of(request, parts_->mesh->clusters()).rect, parts_->max_px);
}

void GraphicsRenderer::render(const RenderRequest& request, const RowSink& sink,
                              RenderTimes* times) {
    sink(render_whole(request, times), 0);
}

RenderedPlanes GraphicsRenderer::render_whole(const RenderRequest& request, RenderTimes* times) {
    assert(!only_processor_draws(request));
    RenderedPlanes planes = empty_planes(request, request.grid);
    const WorkArea area = area_of(request, parts_->mesh->clusters());
    if (area.is_empty()) return planes;  // nothing near the picture
    refuse_size(area.rect, parts_->max_px);

    parts_->read_back.clear();
    StepClock clock(times != nullptr);
    GpuClock gpu(times != nullptr);
    RenderTimes spent;
    gpu.start();
    Picture picture{request, area, PixelMaps(area), {}, {}, {}};
    const auto extras = parts_->gbuffer.draw(*parts_->mesh,
                                             {request.camera, request.grid, area, request.samples,
                                              request.contour_step_mm, request.mask_parts},
                                             picture.maps, parts_->raster_kind, gpu);
    spent.raster_s = clock.lap();
    gpu.start();
    const MapReads reads = start_reads(parts_->read_back, picture.maps, extras);
    gpu.end("read_maps");
    draw_passes(picture, gpu);
    picture.read = finish_maps(parts_->read_back, reads, picture.maps);
    picture.mixed = mixed_pixels(picture.read.view(), request.grid.px_per_mm);
    place_surface(picture.read.view(), area, request.grid, planes);
    place_extras(parts_->read_back, reads, area, request.grid, planes);
    spent.read_back_s = clock.lap();
    stop_if_interrupted();
    if (request.occlusion_reach_mm) occlusion(picture, planes.occlusion);
    spent.occlusion_s = clock.lap();
    stop_if_interrupted();
    if (request.curvature_scale_mm) curvature(picture, planes.curvature);
    spent.curvature_s = clock.lap();
    parts_->read_back.clear();
    if (times != nullptr) {
        spent.gpu_s = gpu.seconds();
        *times = spent;
    }
    return planes;
}

}  // namespace rakelight
