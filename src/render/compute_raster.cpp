#include "render/compute_raster.hpp"

#include <algorithm>
#include <bit>

#include "interrupt.hpp"
#include "shader_sources.hpp"

namespace rakelight {
namespace {

constexpr std::uint32_t invocations_per_group = 256;
constexpr std::uint32_t most_groups = 65535;  // along an axis, that OpenGL 4.3 grants
constexpr double farthest_sample = 131072.0;

// Samples of contour and part masks held at once, of 4 bytes each.
constexpr std::int64_t samples_per_band = std::int64_t{256} << 20;

// Storage blocks of the shaders.
enum Block : GLuint {
    indices_at = 0,
    vertices_at = 0,
    places_at = 1,
    plane_at = 1,
    normals_at = 2,
    runs_at = 2,
    counts_at = 3,
    starts_at = 3,
    scanned_at = 4,
    listed_at = 4,
    maps_at = 5,
    samples_at = 6,
    part_starts_at = 7,
};

void bind(const Buffer& buffer, GLuint block) {
    glBindBufferBase(GL_SHADER_STORAGE_BUFFER, block, buffer.name());
}

// BIN_PX of shaders/bins.glsl.
glm::ivec2 bin_px(int samples) {
    const int width = samples > 4 ? 8 : samples > 2 ? 16 : 32;
    return {width, width / 2};
}

bool within_reach(const GpuMesh& mesh, const GBufferRequest& request) {
    const Camera& camera = request.camera;
    const double samples_per_mm = request.grid.px_per_mm * request.samples;
    const glm::dvec2 corner = request.grid.centre_of(request.area.rect.x, request.area.rect.y);
    for (const auto& cluster : mesh.clusters()) {
        if (camera.projection == Projection::perspective &&
            view_range(cluster, camera).high_mm >= 0.999 * camera.eye_mm) {
            return false;
        }
        const BlankBox box = projected_box(cluster, camera);
        const glm::dvec2 far =
            glm::max(glm::abs(box.low - corner), glm::abs(box.high - corner)) * samples_per_mm;
        if (std::max(far.x, far.y) > farthest_sample) return false;
    }
    return true;
}

BlankBox box_of(const GBufferRequest& request) {
    const PixelRect& area = request.area.rect;
    const double px_mm = 1.0 / request.grid.px_per_mm;
    const double left = request.grid.left_mm + area.x * px_mm;
    const double top = request.grid.top_mm - area.y * px_mm;
    return {{left, top - area.height * px_mm}, {left + area.width * px_mm, top}};
}

// The corner of the first sample on the blank, from the view axis.
glm::vec2 corner_mm(const GBufferRequest& request) {
    const BlankBox box = box_of(request);
    return glm::vec2(glm::dvec2(box.low.x, box.high.y) - request.camera.picture_mm);
}

void set_sample_uniforms(const Program& program, const GBufferRequest& request) {
    const glm::vec2 corner = corner_mm(request);
    glUniform2f(program.location("corner_mm"), corner.x, corner.y);
    glUniform1f(program.location("samples_per_mm"),
                static_cast<float>(request.grid.px_per_mm * request.samples));
    glUniform1f(program.location("eye_mm"), static_cast<float>(request.camera.eye_mm));
}

std::string defines_of(const GBufferRequest& request) {
    std::string defines = "#define SAMPLES " + std::to_string(request.samples) + "\n";
    if (request.camera.projection == Projection::perspective) defines += "#define PERSPECTIVE\n";
    return defines;
}

void dispatch(std::uint32_t groups_x, std::uint32_t groups_y) {
    glDispatchCompute(groups_x, groups_y, 1);
    finish_stores();
}

}  // namespace

// How the picture is cut into bins, and into bands of them whose samples are held at once.
struct ComputeRaster::Layout {
    glm::ivec2 size_px;
    glm::ivec2 bin;
    glm::ivec2 bins;
    int rows_per_band;  // of bins, without one row before and one after
    bool stores_samples;
    std::size_t run_count = 0;
    std::uint32_t groups_per_run = 0;

    explicit Layout(const GBufferRequest& request)
        : size_px(request.area.rect.width, request.area.rect.height),
          bin(bin_px(request.samples)),
          bins((size_px + bin - 1) / bin),
          rows_per_band(bins.y),
          stores_samples(request.contour_step_mm || !request.mask_parts.empty()) {
        if (!stores_samples) return;
        const std::int64_t per_row =
            std::int64_t{size_px.x} * bin.y * request.samples * request.samples;
        const int kinds = request.mask_parts.empty() ? 1 : 2;
        const std::int64_t most = std::min(samples_per_band, max_storage_bytes() / 4 / kinds);
        rows_per_band = static_cast<int>(std::clamp<std::int64_t>(most / per_row - 2, 1, bins.y));
    }

    std::uint32_t bin_count() const { return static_cast<std::uint32_t>(bins.x * bins.y); }
    std::size_t pixel_count() const { return static_cast<std::size_t>(size_px.x) * size_px.y; }
    int stored_first(int first_row) const { return std::max(first_row - 1, 0); }
    int stored_end(int first_row) const { return std::min(first_row + rows_per_band + 1, bins.y); }
    // Samples of a band.
    std::size_t samples_stored(const GBufferRequest& request) const {
        const int rows = std::min(rows_per_band + 2, bins.y) * bin.y;
        return std::size_t{1} * size_px.x * rows * request.samples * request.samples;
    }
};

bool ComputeRaster::can_draw(const GpuMesh& mesh, const GBufferRequest& request) {
    if (!has_compute() || mesh.has_copies()) return false;
    const auto most = static_cast<std::uint64_t>(max_storage_bytes());
    if (std::uint64_t{mesh.vertex_count()} * 16 > most) return false;
    if (std::uint64_t{mesh.triangle_count()} * 12 > most) return false;
    const PixelRect& area = request.area.rect;
    if (std::uint64_t{7 * 4} * area.width * area.height > most) return false;
    return within_reach(mesh, request);
}

const Program& ComputeRaster::program(const std::string& name, const char* source,
                                      const std::string& defines) {
    auto& slot = programs_[name + defines];
    if (!slot) slot = std::make_unique<Program>(name, source, defines);
    slot->use();
    return *slot;
}

void ComputeRaster::upload_runs(const GpuMesh& mesh, const GBufferRequest& request,
                                Layout& layout) {
    const auto runs = mesh.runs_within(request.camera, box_of(request));
    std::uint32_t longest = 0;
    for (const auto& run : runs) longest = std::max(longest, run.count);
    layout.run_count = runs.size();
    layout.groups_per_run = (longest + invocations_per_group - 1) / invocations_per_group;
    if (!runs.empty()) runs_.fill(runs_at, runs.size() * sizeof(TriangleRun), runs.data());
}

void ComputeRaster::place(const GpuMesh& mesh, const GBufferRequest& request) {
    const std::uint32_t count = mesh.vertex_count();
    places_.reserve(places_at, std::size_t{count} * 16);
    normals_.reserve(normals_at, std::size_t{count} * 16);
    bind(mesh.vertices(), vertices_at);
    const Program& place = program("place", shader_sources::place_comp, defines_of(request));
    set_model_uniforms(place, request.camera, request.area.floor_mm);
    set_sample_uniforms(place, request);
    glUniform1ui(place.location("vertex_count"), count);
    const std::uint32_t groups = (count + invocations_per_group - 1) / invocations_per_group;
    for (std::uint32_t first = 0; first < groups; first += most_groups) {
        glUniform1ui(place.location("first_vertex"), first * invocations_per_group);
        dispatch(std::min(groups - first, most_groups), 1);
    }
}

void ComputeRaster::run_over_triangles(const GpuMesh& mesh, const Program& program,
                                       const GBufferRequest& request, const Layout& layout) {
    bind(mesh.indices(), indices_at);
    places_.bind(places_at);
    runs_.bind(runs_at);
    counts_.bind(counts_at);
    const glm::ivec2 size_samples = layout.size_px * request.samples;
    glUniform2i(program.location("size_samples"), size_samples.x, size_samples.y);
    glUniform2i(program.location("bins"), layout.bins.x, layout.bins.y);
    const auto runs = static_cast<std::uint32_t>(layout.run_count);
    for (std::uint32_t first = 0; first < runs; first += most_groups) {
        glUniform1ui(program.location("first_run"), first);
        dispatch(layout.groups_per_run, std::min(runs - first, most_groups));
    }
}

// Counts, and from them where each list starts. One more bin than there are: the large triangles.
void ComputeRaster::count_bins(const GpuMesh& mesh, const GBufferRequest& request,
                               const Layout& layout) {
    const std::uint32_t lists = layout.bin_count() + 1;
    counts_.reserve(counts_at, std::size_t{lists} * 4);
    const std::uint32_t zero = 0;
    glBindBuffer(GL_SHADER_STORAGE_BUFFER, counts_.buffer().name());
    glClearBufferSubData(GL_SHADER_STORAGE_BUFFER, GL_R32UI, 0, GLsizeiptr{lists} * 4,
                         GL_RED_INTEGER, GL_UNSIGNED_INT, &zero);
    const Program& count = program("bin count", shader_sources::bin_comp, defines_of(request));
    run_over_triangles(mesh, count, request, layout);
    const Program& scan = program("scan", shader_sources::scan_comp, {});
    counts_.bind(counts_at);
    starts_.reserve(scanned_at, (std::size_t{lists} + 1) * 4);
    glUniform1ui(scan.location("count"), lists);
    dispatch(1, 1);
}

void ComputeRaster::fill_bins(const GpuMesh& mesh, const GBufferRequest& request,
                              const Layout& layout) {
    listed_.reserve(listed_at, listed_capacity_ * 4);
    const Program& fill =
        program("bin fill", shader_sources::bin_comp, defines_of(request) + "#define FILL\n");
    glUniform1ui(fill.location("capacity"), static_cast<std::uint32_t>(listed_capacity_));
    run_over_triangles(mesh, fill, request, layout);
}

void ComputeRaster::reserve_samples(const GpuMesh& mesh, const GBufferRequest& request,
                                    const Layout& layout) {
    const std::size_t kinds = request.mask_parts.empty() ? 1 : 2;
    samples_.reserve(samples_at, kinds * layout.samples_stored(request) * 4);
    if (kinds == 2) {
        const auto& starts = mesh.part_starts();
        part_starts_.fill(part_starts_at, starts.size() * 4, starts.data());
    }
    while (masks_.size() < request.mask_parts.size()) masks_.emplace_back();
}

void ComputeRaster::draw_band(const GpuMesh& mesh, const GBufferRequest& request,
                              const Layout& layout, const PixelMaps& maps, int first_row) {
    std::string defines = defines_of(request);
    if (request.contour_step_mm) defines += "#define WITH_LIFTS\n";
    if (!request.mask_parts.empty()) defines += "#define WITH_PARTS\n";
    const Program& tile = program("tile", shader_sources::tile_comp, defines);
    bind(mesh.indices(), indices_at);
    places_.bind(places_at);
    normals_.bind(normals_at);
    starts_.bind(starts_at);
    listed_.bind(listed_at);
    maps_.bind(maps_at);
    samples_.bind(samples_at);
    part_starts_.bind(part_starts_at);
    maps.lift.bind_image(0, GL_R32F);
    maps.normal_coverage.bind_image(1, GL_RGBA32F);
    maps.lift_range.bind_image(2, GL_RG32F);
    set_sample_uniforms(tile, request);
    glUniform1i(tile.location("part_count"), static_cast<int>(mesh.part_starts().size()));
    glUniform1i(tile.location("samples_stored"), static_cast<int>(layout.samples_stored(request)));
    glUniform1ui(tile.location("capacity"), static_cast<std::uint32_t>(listed_capacity_));
    glUniform2i(tile.location("bins"), layout.bins.x, layout.bins.y);
    glUniform2i(tile.location("size_px"), layout.size_px.x, layout.size_px.y);
    const int first = layout.stored_first(first_row);
    glUniform1i(tile.location("first_bin_row"), first);
    dispatch(static_cast<std::uint32_t>(layout.bins.x),
             static_cast<std::uint32_t>(layout.stored_end(first_row) - first));
}

void ComputeRaster::draw_extras(const GBufferRequest& request, const Layout& layout,
                                const PixelMaps& maps, int first_row) {
    const std::string defines = "#define SAMPLES " + std::to_string(request.samples) + "\n";
    const int first_px = first_row * layout.bin.y;
    const int end_px =
        std::min((first_row + layout.rows_per_band) * layout.bin.y, layout.size_px.y);
    const int stored_px = layout.stored_first(first_row) * layout.bin.y;
    const int stored_rows =
        std::min(layout.stored_end(first_row) * layout.bin.y, layout.size_px.y) - stored_px;
    samples_.bind(samples_at);
    const auto draw = [&](const Program& program, Storage& into) {
        into.reserve(plane_at, layout.pixel_count() * 4);
        glUniform1i(program.location("width_px"), layout.size_px.x);
        glUniform2i(program.location("first_pixel"), 0, stored_px);
        glUniform1i(program.location("first_row"), first_px);
        glUniform1i(program.location("end_row"), end_px);
        dispatch_over(layout.size_px.x, end_px - first_px, 32, 4);
    };
    if (request.contour_step_mm) {
        const Program& contour = program("contour", shader_sources::contour_comp, defines);
        maps.lift_range.bind(1);
        glUniform1i(contour.location("lift_range_mm"), 1);
        glUniform1f(contour.location("step_mm"), static_cast<float>(*request.contour_step_mm));
        glUniform2i(contour.location("stored_samples"), layout.size_px.x * request.samples,
                    stored_rows * request.samples);
        draw(contour, contour_);
    }
    for (std::size_t i = 0; i < request.mask_parts.size(); ++i) {
        const Program& part = program("part mask", shader_sources::part_comp, defines);
        glUniform1i(part.location("samples_stored"),
                    static_cast<int>(layout.samples_stored(request)));
        glUniform1i(part.location("stored_columns"), layout.size_px.x * request.samples);
        glUniform1ui(part.location("part"), request.mask_parts[i] + 1);
        draw(part, masks_[i]);
    }
}

void ComputeRaster::draw_bands(const GpuMesh& mesh, const GBufferRequest& request,
                               const Layout& layout, const PixelMaps& maps, GpuClock& clock) {
    for (int row = 0; row < layout.bins.y; row += layout.rows_per_band) {
        stop_if_interrupted();
        draw_band(mesh, request, layout, maps, row);
        clock.end("raster");
        if (!layout.stores_samples) continue;
        draw_extras(request, layout, maps, row);
        clock.end("contour_and_masks");
    }
}

GBufferExtras ComputeRaster::draw(const GpuMesh& mesh, const GBufferRequest& request,
                                  const PixelMaps& maps, GpuClock& clock) {
    Layout layout(request);
    upload_runs(mesh, request, layout);
    place(mesh, request);
    clock.end("place");
    count_bins(mesh, request, layout);
    sum_.clear();
    const std::size_t sum_read = sum_.start(Rows{&starts_.buffer(), layout.bin_count() + 1, 1});
    if (layout.stores_samples) reserve_samples(mesh, request, layout);
    maps_.reserve(maps_at, layout.pixel_count() * 7 * 4);
    // How long the lists are is known when the GPU has counted; a guess that holds for most keeps
    // it busy meanwhile.
    const std::size_t guess =
        2 * std::size_t{mesh.triangle_count()} + 16 * std::size_t{layout.bin_count()};
    listed_capacity_ = std::max(listed_capacity_, guess);
    fill_bins(mesh, request, layout);
    clock.end("bin");
    draw_bands(mesh, request, layout, maps, clock);
    const std::size_t needed = std::bit_cast<std::uint32_t>(sum_.finish(sum_read)[0]);
    if (needed > listed_capacity_) {
        listed_capacity_ = needed;
        count_bins(mesh, request, layout);
        fill_bins(mesh, request, layout);
        draw_bands(mesh, request, layout, maps, clock);
    }
    check_gl("computing the model's picture");
    GBufferExtras extras;
    const std::size_t pixels = layout.pixel_count();
    extras.maps = Rows{&maps_.buffer(), 0, 7 * pixels};
    if (request.contour_step_mm) extras.contour = Rows{&contour_.buffer(), 0, pixels};
    for (std::size_t i = 0; i < request.mask_parts.size(); ++i) {
        extras.masks.emplace_back(Rows{&masks_[i].buffer(), 0, pixels});
    }
    return extras;
}

}  // namespace rakelight
