#pragma once
// Private to render/: the uniform block Walk of shaders/occlusion.frag and occlusion.comp.

#include "render/gl_objects.hpp"
#include "render/walk.hpp"

namespace rakelight {

/// std140.
struct WalkBlock {
    static constexpr int max_slices = 12;
    glm::vec4 slices[max_slices];  ///< direction, weight, number of the tap after its last
    glm::vec4 taps[max_walk_taps];

    /// Zero but for the slices.
    explicit WalkBlock(const OcclusionWalk& walk);
    /// Fills the buffer and binds it to place 0.
    void upload(const Buffer& buffer) const;
};
static_assert(sizeof(WalkBlock) <= 16384, "the least that OpenGL 4.1 grants a uniform block");

}  // namespace rakelight
