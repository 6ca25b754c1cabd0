#include "render/curvature.hpp"

#include <algorithm>

#include "render/curvature_processor.hpp"
#include "shader_sources.hpp"

namespace rakelight {
namespace {

constexpr std::size_t max_weights = 1024;  // 4 KiB of a uniform block's 16

struct View {
    const Camera& camera;
    const ImageGrid& grid;
    const WorkArea& area;
    const PixelMaps& maps;
};

// The uniforms and textures of surface.glsl.
void set_surface(const Program& program, const View& view) {
    program.use();
    view.maps.lift.bind(0);
    view.maps.normal_coverage.bind(1);
    view.maps.lift_range.bind(2);
    glUniform1i(program.location("lift_mm"), 0);
    glUniform1i(program.location("normal_coverage"), 1);
    glUniform1i(program.location("lift_range_mm"), 2);
    set_view_uniforms(program, view.camera, view.grid, view.area);
}

void draw_to(const Texture& target, const VertexArray& empty) {
    const Framebuffer framebuffer({{&target}}, nullptr);
    glViewport(0, 0, target.width(), target.height());
    draw_fullscreen(empty);
}

void smooth_along(const Program& smooth, const Texture& from, const Texture& to, glm::ivec2 along,
                  const VertexArray& empty) {
    from.bind(3);
    glUniform2i(smooth.location("along"), along.x, along.y);
    draw_to(to, empty);
}

}  // namespace

CurvaturePassGpu::Programs::Programs(const std::string& defines)
    : fit("curvature", shader_sources::fullscreen_vert, shader_sources::curvature_frag, defines),
      smooth("smooth", shader_sources::fullscreen_vert, shader_sources::smooth_frag, defines),
      quotient("quotient", shader_sources::fullscreen_vert, shader_sources::quotient_frag) {
    smooth.bind_block("Gaussian", 0);
}

Drawn CurvaturePassGpu::draw(double scale_mm, const Camera& camera, const ImageGrid& grid,
                             const WorkArea& area, const PixelMaps& maps, ShaderKind kind) {
    const auto levels = smoothing_levels(scale_mm * grid.px_per_mm);
    if (kind == ShaderKind::compute && CurvaturePassCompute::can_draw(maps)) {
        return compute_.draw(levels, camera, grid, area, maps);
    }
    const bool perspective = camera.projection == Projection::perspective;
    auto& programs = perspective ? perspective_ : parallel_;
    if (!programs) programs.emplace(perspective ? "#define PERSPECTIVE\n" : "");
    const View view{camera, grid, area, maps};
    Texture first(GL_RG32F, maps.lift.width(), maps.lift.height());
    set_surface(programs->fit, view);
    draw_to(first, empty_);
    const Texture second(GL_RG32F, first.width(), first.height());
    for (const auto& level : levels) {
        const Program& smooth = programs->smooth;
        set_surface(smooth, view);
        upload_weights(block_, level.weights);
        glUniform1i(smooth.location("values"), 3);
        glUniform1i(smooth.location("weight_count"), static_cast<int>(level.weights.size()));
        smooth_along(smooth, first, second, {level.stride_px, 0}, empty_);
        smooth_along(smooth, second, first, {0, level.stride_px}, empty_);
    }
    Texture mean(GL_R32F, first.width(), first.height());
    programs->quotient.use();
    first.bind(3);
    glUniform1i(programs->quotient.location("values"), 3);
    draw_to(mean, empty_);
    check_gl("drawing curvature");
    return mean;
}

}  // namespace rakelight
