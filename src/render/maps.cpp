#include "render/maps.hpp"

namespace rakelight {

void draw_fullscreen(const VertexArray& empty) {
    glBindVertexArray(empty.name());
    glDrawArrays(GL_TRIANGLES, 0, 3);
}

void set_view_uniforms(const Program& program, const Camera& camera, const ImageGrid& grid,
                       const WorkArea& area) {
    glUniform1f(program.location("floor_mm"), static_cast<float>(area.floor_mm));
    glUniform1f(program.location("mm_per_px"), static_cast<float>(1.0 / grid.px_per_mm));
    if (camera.projection != Projection::perspective) return;
    const glm::dvec2 first = grid.centre_of(area.rect.x, area.rect.y) - camera.picture_mm;
    glUniform1f(program.location("eye_mm"), static_cast<float>(camera.eye_mm));
    glUniform2f(program.location("first_mm"), static_cast<float>(first.x),
                static_cast<float>(first.y));
}

}  // namespace rakelight
