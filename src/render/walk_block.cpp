#include "render/walk_block.hpp"

namespace rakelight {

WalkBlock::WalkBlock(const OcclusionWalk& walk) : slices{}, taps{} {
    int end = 0;
    for (std::size_t i = 0; i < walk.slices.size(); ++i) {
        const glm::dvec2 along = glm::normalize(glm::dvec2(walk.slices[i].step_px));
        end += walk.slices[i].tap_count;
        slices[i] = glm::vec4(along.x, along.y, walk.slices[i].weight, end);
    }
}

void WalkBlock::upload(const Buffer& buffer) const {
    glBindBuffer(GL_UNIFORM_BUFFER, buffer.name());
    glBufferData(GL_UNIFORM_BUFFER, sizeof *this, this, GL_STREAM_DRAW);
    glBindBufferBase(GL_UNIFORM_BUFFER, 0, buffer.name());
}

}  // namespace rakelight
