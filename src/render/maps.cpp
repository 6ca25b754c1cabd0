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

void upload_weights(const Buffer& buffer, const std::vector<float>& weights) {
    constexpr std::size_t block_floats = 1024;
    std::vector<float> block = weights;
    block.resize(block_floats);
    glBindBuffer(GL_UNIFORM_BUFFER, buffer.name());
    glBufferData(GL_UNIFORM_BUFFER, block_floats * sizeof(float), block.data(), GL_STREAM_DRAW);
    glBindBufferBase(GL_UNIFORM_BUFFER, 0, buffer.name());
}

}  // namespace rakelight
