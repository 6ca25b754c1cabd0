#include "render/renderer.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <span>

#include "error.hpp"
#include "image/row_bands.hpp"
#include "interrupt.hpp"
#include "render/curvature.hpp"
#include "render/curvature_processor.hpp"
#include "render/depth_steps.hpp"
#include "render/gbuffer.hpp"
#include "render/occlusion.hpp"
#include "render/occlusion_processor.hpp"
#include "render/read_back.hpp"
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

// Calls put(index in the map, index in the picture) for every pixel that both have, from several
// threads.
template <typename Put>
void scatter(const PixelRect& rect, const ImageGrid& grid, Put put) {
    const int x0 = std::max(rect.x, 0);
    const int x1 = std::min(rect.x + rect.width, grid.width);
    const int y0 = std::max(rect.y, 0);
    const int y1 = std::min(rect.y + rect.height, grid.height);
    for_row_bands(std::max(y1 - y0, 0), [&](int first, int end) {
        for (int y = y0 + first; y < y0 + end; ++y) {
            const std::size_t from = static_cast<std::size_t>(y - rect.y) * rect.width - rect.x;
            const std::size_t to = static_cast<std::size_t>(y) * grid.width;
            for (int x = x0; x < x1; ++x) put(from + x, to + x);
        }
    });
}

void place_values(std::span<const float> map, const PixelRect& rect, const ImageGrid& grid,
                  Plane& plane) {
    scatter(rect, grid, [&](std::size_t from, std::size_t to) { plane.values[to] = map[from]; });
}

RenderedPlanes empty_planes(const RenderRequest& request) {
    const int w = request.grid.width;
    const int h = request.grid.height;
    RenderedPlanes planes;
    planes.coverage = Plane(w, h);
    planes.height_mm = Plane(w, h);
    planes.normal_x = Plane(w, h);
    planes.normal_y = Plane(w, h);
    planes.normal_z = Plane(w, h, 1.0F);
    if (request.occlusion_reach_mm) planes.occlusion = Plane(w, h, 1.0F);
    if (request.curvature_scale_mm) planes.curvature = Plane(w, h);
    if (request.contour_step_mm) planes.contour = Plane(w, h);
    planes.masks.assign(request.mask_parts.size(), Plane(w, h));
    return planes;
}

void place_surface(const ReadMaps& maps, const WorkArea& area, const ImageGrid& grid,
                   RenderedPlanes& planes) {
    const auto floor = static_cast<float>(area.floor_mm);
    scatter(area.rect, grid, [&](std::size_t from, std::size_t to) {
        const float* n = &maps.normal_coverage[4 * from];
        planes.coverage.values[to] = n[3];
        planes.height_mm.values[to] = n[3] > 0.0F ? maps.lift_mm[from] + floor : 0.0F;
        planes.normal_x.values[to] = n[0];
        planes.normal_y.values[to] = n[1];
        planes.normal_z.values[to] = n[2];
    });
}

void place_extras(ReadBack& read_back, const MapReads& reads, const WorkArea& area,
                  const ImageGrid& grid, RenderedPlanes& planes) {
    if (reads.contour) {
        place_values(read_back.finish(*reads.contour), area.rect, grid, planes.contour);
    }
    for (std::size_t i = 0; i < reads.masks.size(); ++i) {
        place_values(read_back.finish(reads.masks[i]), area.rect, grid, planes.masks[i]);
    }
}

void refuse_size(const PixelRect& rect, int limit) {
    if (rect.width <= limit && rect.height <= limit) return;
    throw Error(ExitCode::no_graphics, "the picture needs maps of " + std::to_string(rect.width) +
                                           " x " + std::to_string(rect.height) +
                                           " pixels, and this graphics driver goes to " +
                                           std::to_string(limit) + "; lower image.px_per_mm");
}

// How many pixels one millimetre of view space spans at most: in perspective, what is near is
// large.
double largest_px_per_mm(const Camera& camera, const ImageGrid& grid, double top_mm) {
    if (camera.projection == Projection::parallel) return grid.px_per_mm;
    return grid.px_per_mm * camera.eye_mm / (camera.eye_mm - std::max(top_mm, 0.0));
}

OcclusionWalk walk_of(const RenderRequest& request, const WorkArea& area) {
    const double px_per_mm = largest_px_per_mm(request.camera, request.grid, area.top_mm);
    return make_occlusion_walk(*request.occlusion_reach_mm * px_per_mm);
}

}  // namespace

struct Renderer::Parts {
    explicit Parts(const GraphicsFacts& facts)
        : max_px(std::min(facts.max_texture_px, facts.max_viewport_px)),
          software(facts.software),
          gbuffer(max_px) {}

    bool on_processor(PassDevice device) const {
        return device == PassDevice::processor || (device == PassDevice::automatic && software);
    }

    ShaderKind kind(PassDevice device) const {
        const bool compute =
            device == PassDevice::compute || (device == PassDevice::automatic && !software);
        return compute ? ShaderKind::compute : ShaderKind::fragment;
    }

    int max_px;
    bool software;
    std::optional<GpuMesh> mesh;
    GBuffer gbuffer;
    OcclusionPassGpu occlusion;
    CurvaturePassGpu curvature;
    ReadBack read_back;
};

/// One picture on its way: what its passes work on.
struct Renderer::Picture {
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

Renderer::Renderer(const GraphicsContext& context)
    : parts_(std::make_unique<Parts>(context.facts())) {
    glPixelStorei(GL_UNPACK_ALIGNMENT, 4);
    glDisable(GL_BLEND);
    glDisable(GL_CULL_FACE);
    glDisable(GL_DITHER);
}

Renderer::~Renderer() = default;

void Renderer::set_mesh(const Mesh& mesh, const std::vector<bool>& used) {
    parts_->mesh.emplace(mesh, used);
}

// Asks the GPU for the passes that are its own, before the processor turns to what it has read.
void Renderer::draw_passes(Picture& picture, GpuClock& gpu) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    if (parts_->on_processor(request.device)) return;
    const ShaderKind kind = parts_->kind(request.device);
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

void Renderer::occlusion(const Picture& picture, Plane& plane) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    std::vector<float> open;
    if (drawn.occlusion) {
        open = copy_of(parts_->read_back.finish(*drawn.occlusion));
    } else {
        open = occlusion_on_processor(walk_of(request, area), *request.occlusion_reach_mm,
                                      request.camera, request.grid, area, read.view());
    }
    blend_mixed_pixels(read.view(), mixed, open);
    place_values(open, area.rect, request.grid, plane);
}

void Renderer::curvature(const Picture& picture, Plane& plane) {
    const auto& [request, area, maps, read, mixed, drawn] = picture;
    std::vector<float> curved;
    if (drawn.curvature) {
        curved = copy_of(parts_->read_back.finish(*drawn.curvature));
    } else {
        curved = curvature_on_processor(*request.curvature_scale_mm, request.camera, request.grid,
                                        area, read.view(), mixed);
    }
    blend_mixed_pixels(read.view(), mixed, curved);
    place_values(curved, area.rect, request.grid, plane);
}

// How far beyond the picture's edge its passes look. The nearest point, and with it the widest
// reach in perspective, is known only from the subject's box: taken without a guard first.
int Renderer::guard_px(const RenderRequest& request) const {
    const WorkArea bare = work_area(*parts_->mesh, request.camera, request.grid, 0);
    const double px_per_mm = largest_px_per_mm(request.camera, request.grid, bare.top_mm);
    const double reach_mm = request.occlusion_reach_mm.value_or(0.0);
    const double scale_mm = request.curvature_scale_mm.value_or(0.0);
    const double farthest_mm = std::max(reach_mm, 3.0 * scale_mm);
    return 2 + static_cast<int>(std::ceil(std::min(farthest_mm * px_per_mm, 1e6)));
}

RenderedPlanes Renderer::render(const RenderRequest& request, RenderTimes* times) {
    RenderedPlanes planes = empty_planes(request);
    const WorkArea area = work_area(*parts_->mesh, request.camera, request.grid, guard_px(request));
    if (area.rect.width < 3 || area.rect.height < 3) return planes;  // nothing near the picture
    refuse_size(area.rect, parts_->max_px);

    parts_->read_back.clear();
    StepClock clock(times != nullptr);
    GpuClock gpu(times != nullptr);
    RenderTimes spent;
    gpu.start();
    Picture picture{request, area, PixelMaps(area), {}, {}, {}};
    const auto extras = parts_->gbuffer.draw(
        *parts_->mesh,
        {request.camera, request.grid, area, request.samples, request.contour_step_mm,
         request.mask_parts},
        picture.maps, parts_->kind(request.raster.value_or(request.device)), gpu);
    spent.raster_s = clock.lap();
    gpu.start();
    const MapReads reads = start_reads(parts_->read_back, picture.maps, extras);
    gpu.end("read_maps");
    draw_passes(picture, gpu);
    picture.read = finish_maps(parts_->read_back, reads, picture.maps);
    picture.mixed = mixed_pixels(picture.read.view(), request.grid.px_per_mm);
    place_surface(picture.read, area, request.grid, planes);
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
