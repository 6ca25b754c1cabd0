#include "render/compute_raster.hpp"

#include <algorithm>

#include "interrupt.hpp"
#include "shader_sources.hpp"

namespace rakelight {
namespace {

constexpr int bin_px = 16;
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
    normals_at = 2,
    runs_at = 2,
    counts_at = 3,
    starts_at = 3,
    scanned_at = 4,
    listed_at = 4,
    sample_lifts_at = 5,
    sample_parts_at = 6,
    part_starts_at = 7,
};

void bind(const Buffer& buffer, GLuint block) {
    glBindBufferBase(GL_SHADER_STORAGE_BUFFER, block, buffer.name());
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
    glm::ivec2 bins;
    int rows_per_band;  // of bins, without one row before and one after
    bool stores_samples;
    std::size_t run_count = 0;
    std::uint32_t groups_per_run = 0;

    explicit Layout(const GBufferRequest& request)
        : size_px(request.area.rect.width, request.area.rect.height),
          bins((size_px + bin_px - 1) / bin_px),
          rows_per_band(bins.y),
          stores_samples(request.contour_step_mm || !request.mask_parts.empty()) {
        if (!stores_samples) return;
        const std::int64_t per_row =
            std::int64_t{size_px.x} * bin_px * request.samples * request.samples;
        const std::int64_t most = std::min(samples_per_band, max_storage_bytes() / 4);
        rows_per_band = static_cast<int>(std::clamp<std::int64_t>(most / per_row - 2, 1, bins.y));
    }

    std::uint32_t bin_count() const { return static_cast<std::uint32_t>(bins.x * bins.y); }
    int stored_first(int first_row) const { return std::max(first_row - 1, 0); }
    int stored_end(int first_row) const { return std::min(first_row + rows_per_band + 1, bins.y); }
};

bool ComputeRaster::can_draw(const GpuMesh& mesh, const GBufferRequest& request) {
    if (!has_compute()) return false;
    const auto most = static_cast<std::uint64_t>(max_storage_bytes());
    if (std::uint64_t{mesh.vertex_count()} * 16 > most) return false;
    if (std::uint64_t{mesh.triangle_count()} * 12 > most) return false;
    return within_reach(mesh, request);
}

const Program& ComputeRaster::program(const std::string& name, const char* source,
                                      const std::string& defines) {
    auto& slot = programs_[name + defines];
    if (!slot) slot = std::make_unique<Program>(name, source, defines);
    slot->use();
    return *slot;
}

void ComputeRaster::place(const GpuMesh& mesh, const GBufferRequest& request) {
    const std::uint32_t count = mesh.vertex_count();
    make_storage(places_, places_at, std::size_t{count} * 16);
    make_storage(normals_, normals_at, std::size_t{count} * 16);
    bind(mesh.vertices(), vertices_at);
    const Program& place = program("place", shader_sources::place_comp, defines_of(request));
    set_model_uniforms(place, request);
    set_sample_uniforms(place, request);
    glUniform1ui(place.location("vertex_count"), count);
    const std::uint32_t groups = (count + invocations_per_group - 1) / invocations_per_group;
    for (std::uint32_t first = 0; first < groups; first += most_groups) {
        glUniform1ui(place.location("first_vertex"), first * invocations_per_group);
        dispatch(std::min(groups - first, most_groups), 1);
    }
}

void ComputeRaster::run_over_triangles(const GpuMesh& mesh, const Program& program,
                                       const Layout& layout) {
    bind(mesh.indices(), indices_at);
    bind(places_, places_at);
    bind(runs_, runs_at);
    bind(counts_, counts_at);
    glUniform2i(program.location("bins"), layout.bins.x, layout.bins.y);
    const auto runs = static_cast<std::uint32_t>(layout.run_count);
    for (std::uint32_t first = 0; first < runs; first += most_groups) {
        glUniform1ui(program.location("first_run"), first);
        dispatch(layout.groups_per_run, std::min(runs - first, most_groups));
    }
}

void ComputeRaster::scan(const Layout& layout) {
    const Program& scan = program("scan", shader_sources::scan_comp, {});
    bind(counts_, counts_at);
    bind(starts_, scanned_at);
    glUniform1ui(scan.location("count"), layout.bin_count() + 1);
    dispatch(1, 1);
}

// Through a buffer of its own: a driver may move one that is read by the processor out of the GPU's
// memory.
std::uint32_t ComputeRaster::listed_count(const Layout& layout) {
    glBindBuffer(GL_COPY_READ_BUFFER, starts_.name());
    glBindBuffer(GL_COPY_WRITE_BUFFER, staging_.name());
    glBufferData(GL_COPY_WRITE_BUFFER, 4, nullptr, GL_STREAM_READ);
    glCopyBufferSubData(GL_COPY_READ_BUFFER, GL_COPY_WRITE_BUFFER,
                        static_cast<GLintptr>(layout.bin_count() + 1) * 4, 0, 4);
    std::uint32_t count = 0;
    glGetBufferSubData(GL_COPY_WRITE_BUFFER, 0, 4, &count);
    return count;
}

void ComputeRaster::sort_into_bins(const GpuMesh& mesh, const GBufferRequest& request,
                                   const Layout& layout) {
    // One more bin than there are: the large triangles.
    make_storage(counts_, counts_at, (std::size_t{layout.bin_count()} + 1) * 4);
    make_storage(starts_, scanned_at, (std::size_t{layout.bin_count()} + 2) * 4);
    const std::uint32_t zero = 0;
    glBindBuffer(GL_SHADER_STORAGE_BUFFER, counts_.name());
    glClearBufferData(GL_SHADER_STORAGE_BUFFER, GL_R32UI, GL_RED_INTEGER, GL_UNSIGNED_INT, &zero);
    const glm::ivec2 size_samples = layout.size_px * request.samples;
    const std::string defines = defines_of(request);
    const Program& count = program("bin count", shader_sources::bin_comp, defines);
    glUniform2i(count.location("size_samples"), size_samples.x, size_samples.y);
    run_over_triangles(mesh, count, layout);
    scan(layout);
    const std::size_t entries = std::max(listed_count(layout), 1U);
    make_storage(listed_, listed_at, entries * 4);
    const Program& fill = program("bin fill", shader_sources::bin_comp, defines + "#define FILL\n");
    glUniform2i(fill.location("size_samples"), size_samples.x, size_samples.y);
    run_over_triangles(mesh, fill, layout);
}

void ComputeRaster::draw_band(const GpuMesh& mesh, const GBufferRequest& request,
                              const Layout& layout, const PixelMaps& maps,
                              const GBufferExtras& extras, int first_row) {
    const bool with_parts = !extras.masks.empty();
    std::string defines = defines_of(request);
    if (extras.contour) defines += "#define WITH_LIFTS\n";
    if (with_parts) defines += "#define WITH_PARTS\n";
    const Program& tile = program("tile", shader_sources::tile_comp, defines);
    bind(mesh.indices(), indices_at);
    bind(places_, places_at);
    bind(normals_, normals_at);
    bind(starts_, starts_at);
    bind(listed_, listed_at);
    if (extras.contour) bind(sample_lifts_, sample_lifts_at);
    if (with_parts) {
        bind(sample_parts_, sample_parts_at);
        bind(part_starts_, part_starts_at);
        glUniform1i(tile.location("part_count"), static_cast<int>(mesh.part_starts().size()));
    }
    maps.lift.bind_image(0, GL_R32F);
    maps.normal_coverage.bind_image(1, GL_RGBA32F);
    maps.lift_range.bind_image(2, GL_RG32F);
    set_sample_uniforms(tile, request);
    glUniform2i(tile.location("bins"), layout.bins.x, layout.bins.y);
    glUniform2i(tile.location("size_px"), layout.size_px.x, layout.size_px.y);
    const int first = layout.stored_first(first_row);
    glUniform1i(tile.location("first_bin_row"), first);
    dispatch(static_cast<std::uint32_t>(layout.bins.x),
             static_cast<std::uint32_t>(layout.stored_end(first_row) - first));
}

void ComputeRaster::draw_extras(const GBufferRequest& request, const Layout& layout,
                                const PixelMaps& maps, const GBufferExtras& extras, int first_row) {
    const std::string defines = "#define SAMPLES " + std::to_string(request.samples) + "\n";
    const int first_px = first_row * bin_px;
    const int end_px = std::min((first_row + layout.rows_per_band) * bin_px, layout.size_px.y);
    const int stored_first_px = layout.stored_first(first_row) * bin_px;
    const int stored_end_px = std::min(layout.stored_end(first_row) * bin_px, layout.size_px.y);
    const auto draw = [&](const Program& program, const Texture& into) {
        into.bind_image(0, GL_R32F);
        glUniform2i(program.location("first_pixel"), 0, stored_first_px);
        glUniform1i(program.location("first_row"), first_px);
        glUniform1i(program.location("end_row"), end_px);
        dispatch_over(layout.size_px.x, end_px - first_px, 32, 4);
    };
    if (extras.contour) {
        const Program& contour = program("contour", shader_sources::contour_comp, defines);
        bind(sample_lifts_, sample_lifts_at);
        maps.lift_range.bind(1);
        glUniform1i(contour.location("lift_range_mm"), 1);
        glUniform1f(contour.location("step_mm"), static_cast<float>(*request.contour_step_mm));
        glUniform2i(contour.location("stored_samples"), layout.size_px.x * request.samples,
                    (stored_end_px - stored_first_px) * request.samples);
        draw(contour, *extras.contour);
    }
    for (std::size_t i = 0; i < extras.masks.size(); ++i) {
        const Program& part = program("part mask", shader_sources::part_comp, defines);
        bind(sample_parts_, sample_parts_at);
        glUniform1i(part.location("stored_columns"), layout.size_px.x * request.samples);
        glUniform1ui(part.location("part"), request.mask_parts[i] + 1);
        draw(part, extras.masks[i]);
    }
}

void ComputeRaster::draw(const GpuMesh& mesh, const GBufferRequest& request, const PixelMaps& maps,
                         const GBufferExtras& extras, GpuClock& clock) {
    Layout layout(request);
    const auto runs = mesh.runs_within(request.camera, box_of(request));
    layout.run_count = runs.size();
    std::uint32_t longest = 0;
    for (const auto& run : runs) longest = std::max(longest, run.count);
    layout.groups_per_run = (longest + invocations_per_group - 1) / invocations_per_group;
    make_storage(runs_, runs_at, std::max<std::size_t>(runs.size(), 1) * sizeof(TriangleRun),
                 runs.empty() ? nullptr : runs.data());
    place(mesh, request);
    clock.end("place");
    sort_into_bins(mesh, request, layout);
    clock.end("bin");
    if (layout.stores_samples) {
        const int rows = std::min(layout.rows_per_band + 2, layout.bins.y) * bin_px;
        const std::size_t bytes =
            std::size_t{4} * layout.size_px.x * rows * request.samples * request.samples;
        if (extras.contour) make_storage(sample_lifts_, sample_lifts_at, bytes);
        if (!extras.masks.empty()) {
            make_storage(sample_parts_, sample_parts_at, bytes);
            make_storage(part_starts_, part_starts_at, mesh.part_starts().size() * 4,
                         mesh.part_starts().data());
        }
    }
    for (int row = 0; row < layout.bins.y; row += layout.rows_per_band) {
        stop_if_interrupted();
        draw_band(mesh, request, layout, maps, extras, row);
        clock.end("raster");
        if (!layout.stores_samples) continue;
        draw_extras(request, layout, maps, extras, row);
        clock.end("contour_and_masks");
    }
    check_gl("computing the model's picture");
}

}  // namespace rakelight
