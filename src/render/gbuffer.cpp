#include "render/gbuffer.hpp"

#include <algorithm>
#include <glm/gtc/type_ptr.hpp>

#include "interrupt.hpp"
#include "shader_sources.hpp"

namespace rakelight {
namespace {

// Samples held at once, of 12 bytes each: few enough that their memory is touched again by the next
// tile instead of being new, many enough that a tile's vertices are not drawn over and over.
constexpr std::int64_t samples_per_tile = std::int64_t{8} << 20;

// Pixels around a tile whose samples are drawn too, for lines that run along its edge.
constexpr int guard_px = 1;

struct TileSize {
    int width;
    int height;
};

// Depends on the picture's size alone, so that bytes never depend on the machine's load.
TileSize tile_size(const PixelRect& area, int samples, int max_texture_px) {
    const int longest = std::min(max_texture_px, 16384) / samples - 2 * guard_px;
    const int width = std::min(area.width, longest);
    const std::int64_t pixels = samples_per_tile / (std::int64_t{samples} * samples);
    const auto rows = static_cast<int>(pixels / (width + 2 * guard_px)) - 2 * guard_px;
    return {width, std::min({area.height, longest, std::max(rows, 16)})};
}

// Maps a rectangle of the blank to clip space, rows from the top, and view z to depth, near first.
glm::dmat4 clip_from_view(const Camera& camera, const BlankBox& box, const WorkArea& area) {
    const glm::dvec2 half = 0.5 * (box.high - box.low);
    const glm::dvec2 middle = 0.5 * (box.high + box.low) - camera.picture_mm;
    glm::dmat4 m(0.0);  // m[column][row]
    if (camera.projection == Projection::parallel) {
        const double depth = area.top_mm - area.floor_mm;
        m[0][0] = 1.0 / half.x;
        m[1][1] = -1.0 / half.y;
        m[2][2] = -2.0 / depth;
        m[3] = {-middle.x / half.x, middle.y / half.y, (area.top_mm + area.floor_mm) / depth, 1.0};
        return m;
    }
    const double eye = camera.eye_mm;
    const double near = eye - area.top_mm;  // distances from the eye
    const double far = eye - area.floor_mm;
    // w = eye - z; x: (eye x / w - middle) / half
    m[0][0] = eye / half.x;
    m[1][1] = -eye / half.y;
    m[2] = {middle.x / half.x, -middle.y / half.y, -(far + near) / (far - near), -1.0};
    m[3] = {-middle.x * eye / half.x, middle.y * eye / half.y,
            ((far + near) * eye - 2.0 * far * near) / (far - near), eye};
    return m;
}

void set_camera_uniforms(const Program& program, const GBufferRequest& request,
                         const BlankBox& box) {
    set_model_uniforms(program, request.camera, request.area.floor_mm);
    const glm::mat4 clip(clip_from_view(request.camera, box, request.area));
    glUniformMatrix4fv(program.location("clip_from_view"), 1, GL_FALSE, glm::value_ptr(clip));
    glUniform1f(program.location("eye_mm"), static_cast<float>(request.camera.eye_mm));
}

SampleTile tile_at(int x, int y, const TileSize& size, const GBufferRequest& request) {
    const PixelRect& area = request.area.rect;
    SampleTile tile;
    tile.own = {x, y, std::min(size.width, area.width - x), std::min(size.height, area.height - y)};
    const int left = std::max(x - guard_px, 0);
    const int top = std::max(y - guard_px, 0);
    const int right = std::min(x + tile.own.width + guard_px, area.width);
    const int bottom = std::min(y + tile.own.height + guard_px, area.height);
    tile.guarded = {left, top, right - left, bottom - top};
    const double px_mm = 1.0 / request.grid.px_per_mm;
    const double x_mm = request.grid.left_mm + (area.x + left) * px_mm;
    const double y_mm = request.grid.top_mm - (area.y + top) * px_mm;
    tile.box = {{x_mm, y_mm - tile.guarded.height * px_mm},
                {x_mm + tile.guarded.width * px_mm, y_mm}};
    return tile;
}

void set_viewport(const PixelRect& rect) {
    glViewport(rect.x, rect.y, rect.width, rect.height);
}

void set_first_pixel(const Program& program, const SampleTile& tile) {
    glUniform2i(program.location("first_pixel"), tile.guarded.x, tile.guarded.y);
}

GBufferExtras make_extras(const GBufferRequest& request) {
    const PixelRect& area = request.area.rect;
    GBufferExtras extras;
    if (request.contour_step_mm) extras.contour = Texture(GL_R32F, area.width, area.height);
    for (std::size_t i = 0; i < request.mask_parts.size(); ++i) {
        extras.masks.emplace_back(Texture(GL_R32F, area.width, area.height));
    }
    return extras;
}

std::string samples_define(int samples) {
    return "#define SAMPLES " + std::to_string(samples) + "\n";
}

}  // namespace

void set_model_uniforms(const Program& program, const Camera& camera, double floor_mm) {
    const glm::vec3 centre(camera.centre_model);
    const glm::dmat3 scaled = camera.mm_per_unit * camera.view_from_model;
    const glm::vec3 rest(scaled * (glm::dvec3(centre) - camera.centre_model));
    const glm::mat3 view_mm(scaled);
    const glm::mat3 view(camera.view_from_model);
    glUniform3fv(program.location("centre_model"), 1, glm::value_ptr(centre));
    glUniform3fv(program.location("rest_view_mm"), 1, glm::value_ptr(rest));
    glUniformMatrix3fv(program.location("view_mm_from_model"), 1, GL_FALSE,
                       glm::value_ptr(view_mm));
    glUniformMatrix3fv(program.location("view_from_model"), 1, GL_FALSE, glm::value_ptr(view));
    glUniform1f(program.location("floor_mm"), static_cast<float>(floor_mm));
}

// What a tile is drawn to: the samples, then the pixel maps and extras of the whole work area.
struct GBuffer::Targets {
    int width;
    int height;
    Texture lift;
    Texture normal;
    Texture depth;
    std::vector<Texture> part;  // none or one
    Framebuffer samples;
    Framebuffer maps;
    std::vector<Framebuffer> contour;  // none or one
    std::vector<Framebuffer> masks;

    Targets(const TileSize& size, const GBufferRequest& request, const PixelMaps& pixel_maps,
            const GBufferExtras& extras)
        : width(std::min(size.width + 2 * guard_px, request.area.rect.width) * request.samples),
          height(std::min(size.height + 2 * guard_px, request.area.rect.height) * request.samples),
          lift(GL_R32F, width, height),
          normal(GL_RG16, width, height),
          depth(GL_DEPTH_COMPONENT32F, width, height),
          part(part_texture(request, width, height)),
          samples(sample_colours(), &depth),
          maps({{&pixel_maps.lift}, {&pixel_maps.normal_coverage}, {&pixel_maps.lift_range}},
               nullptr) {
        if (extras.contour) contour.push_back(only(std::get<Texture>(*extras.contour)));
        for (const auto& mask : extras.masks) masks.push_back(only(std::get<Texture>(mask)));
    }

private:
    static Framebuffer only(const Texture& texture) { return Framebuffer({{&texture}}, nullptr); }

    static std::vector<Texture> part_texture(const GBufferRequest& request, int width, int height) {
        std::vector<Texture> textures;
        if (!request.mask_parts.empty()) textures.emplace_back(GL_R32UI, width, height);
        return textures;
    }

    std::vector<Framebuffer::Colour> sample_colours() const {
        std::vector<Framebuffer::Colour> colours{{&lift}, {&normal}};
        for (const auto& texture : part) colours.push_back({&texture});
        return colours;
    }
};

const Program& GBuffer::program(const std::string& name, const char* vertex, const char* fragment,
                                const std::string& defines) {
    auto& slot = programs_[name + defines];
    if (!slot) slot = std::make_unique<Program>(name, vertex, fragment, defines);
    slot->use();
    return *slot;
}

void GBuffer::raster(const GpuMesh& mesh, const GBufferRequest& request, const SampleTile& tile,
                     const Targets& targets) {
    const bool with_parts = !targets.part.empty();
    std::string defines;
    if (request.camera.projection == Projection::perspective) defines += "#define PERSPECTIVE\n";
    if (with_parts) defines += "#define WITH_PARTS\n";
    const Program& raster =
        program("raster", shader_sources::raster_vert, shader_sources::raster_frag, defines);
    targets.samples.bind();
    glViewport(0, 0, tile.guarded.width * request.samples, tile.guarded.height * request.samples);
    const float nothing[4] = {0, 0, 0, 0};
    const GLuint no_part[4] = {0, 0, 0, 0};
    const float farthest = 1.0F;
    glClearBufferfv(GL_COLOR, 0, nothing);
    if (with_parts) glClearBufferuiv(GL_COLOR, 2, no_part);
    glClearBufferfv(GL_DEPTH, 0, &farthest);
    glEnable(GL_DEPTH_TEST);
    glDepthFunc(GL_LESS);
    glFrontFace(GL_CW);  // rows run from the top, which mirrors every triangle
    set_camera_uniforms(raster, request, tile.box);
    mesh.draw(
        request.camera, tile.box, with_parts ? raster.location("part") : -1,
        [&](const Camera& stored) { set_model_uniforms(raster, stored, request.area.floor_mm); });
    glDisable(GL_DEPTH_TEST);
}

void GBuffer::resolve(const GBufferRequest& request, const SampleTile& tile,
                      const Targets& targets) {
    const Program& resolve = program("resolve", shader_sources::fullscreen_vert,
                                     shader_sources::resolve_frag, samples_define(request.samples));
    targets.maps.bind();
    set_viewport(tile.guarded);
    targets.lift.bind(0);
    targets.normal.bind(1);
    glUniform1i(resolve.location("sample_lift_mm"), 0);
    glUniform1i(resolve.location("sample_normal"), 1);
    set_first_pixel(resolve, tile);
    draw_fullscreen(empty_);
}

void GBuffer::draw_contour(const GBufferRequest& request, const SampleTile& tile,
                           const Targets& targets, const PixelMaps& maps) {
    const Program& contour = program("contour", shader_sources::fullscreen_vert,
                                     shader_sources::contour_frag, samples_define(request.samples));
    targets.contour.front().bind();
    set_viewport(tile.own);
    targets.lift.bind(0);
    maps.lift_range.bind(1);
    glUniform1i(contour.location("sample_lift_mm"), 0);
    glUniform1i(contour.location("lift_range_mm"), 1);
    glUniform1f(contour.location("step_mm"), static_cast<float>(*request.contour_step_mm));
    set_first_pixel(contour, tile);
    draw_fullscreen(empty_);
}

void GBuffer::draw_masks(const GBufferRequest& request, const SampleTile& tile,
                         const Targets& targets) {
    const Program& mask = program("part mask", shader_sources::fullscreen_vert,
                                  shader_sources::part_frag, samples_define(request.samples));
    set_viewport(tile.own);
    targets.part.front().bind(0);
    glUniform1i(mask.location("sample_part"), 0);
    set_first_pixel(mask, tile);
    for (std::size_t i = 0; i < targets.masks.size(); ++i) {
        targets.masks[i].bind();
        glUniform1ui(mask.location("part"), request.mask_parts[i] + 1);
        draw_fullscreen(empty_);
    }
}

GBufferExtras GBuffer::draw(const GpuMesh& mesh, const GBufferRequest& request,
                            const PixelMaps& maps, ShaderKind kind, GpuClock& clock) {
    const PixelRect& area = request.area.rect;
    if (kind == ShaderKind::compute && ComputeRaster::can_draw(mesh, request)) {
        return compute_.draw(mesh, request, maps, clock);
    }
    GBufferExtras extras = make_extras(request);
    const TileSize size = tile_size(area, request.samples, max_texture_px_);
    const Targets targets(size, request, maps, extras);
    for (int y = 0; y < area.height; y += size.height) {
        for (int x = 0; x < area.width; x += size.width) {
            stop_if_interrupted();
            const SampleTile tile = tile_at(x, y, size, request);
            raster(mesh, request, tile, targets);
            clock.end("raster");
            resolve(request, tile, targets);
            clock.end("resolve");
            if (extras.contour) draw_contour(request, tile, targets, maps);
            if (!extras.masks.empty()) draw_masks(request, tile, targets);
            clock.end("contour_and_masks");
        }
    }
    check_gl("drawing the model");
    return extras;
}

}  // namespace rakelight
