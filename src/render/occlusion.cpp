#include "render/occlusion.hpp"

#include "render/walk_block.hpp"
#include "shader_sources.hpp"

namespace rakelight {
void OcclusionPassGpu::upload(const OcclusionWalk& walk, double mm_per_px) {
    WalkBlock block(walk);
    for (std::size_t i = 0; i < walk.taps.size(); ++i) {
        const SliceTap& tap = walk.taps[i];  // its y runs upwards, the maps' rows downwards
        block.taps[i] =
            glm::vec4(tap.first_px.x, -tap.first_px.y, tap.share, tap.distance_px * mm_per_px);
    }
    block.upload(block_);
}

Drawn OcclusionPassGpu::draw(const OcclusionWalk& walk, double reach_mm, const Camera& camera,
                             const ImageGrid& grid, const WorkArea& area, const PixelMaps& maps,
                             ShaderKind kind) {
    if (kind == ShaderKind::compute && OcclusionPassCompute::can_draw(walk, maps)) {
        return compute_.draw(walk, reach_mm, camera, grid, area, maps);
    }
    upload(walk, 1.0 / grid.px_per_mm);
    const bool perspective = camera.projection == Projection::perspective;
    auto& program = perspective ? perspective_ : parallel_;
    if (!program) {
        program.emplace("occlusion", shader_sources::fullscreen_vert,
                        shader_sources::occlusion_frag, perspective ? "#define PERSPECTIVE\n" : "");
        program->bind_block("Walk", 0);
    }
    program->use();
    Texture open(GL_R32F, maps.lift.width(), maps.lift.height());
    const Framebuffer target({{&open}}, nullptr);
    glViewport(0, 0, open.width(), open.height());
    maps.lift.bind(0);
    maps.normal_coverage.bind(1);
    glUniform1i(program->location("lift_mm"), 0);
    glUniform1i(program->location("normal_coverage"), 1);
    glUniform1i(program->location("slice_count"), static_cast<int>(walk.slices.size()));
    glUniform1f(program->location("reach_mm"), static_cast<float>(reach_mm));
    set_view_uniforms(*program, camera, grid, area);
    draw_fullscreen(empty_);
    check_gl("drawing occlusion");
    return open;
}

}  // namespace rakelight
