#pragma once
// Private to render/: the occlusion pass on the GPU; see shaders/occlusion.frag for the method.

#include <optional>

#include "render/maps.hpp"
#include "render/occlusion_compute.hpp"
#include "render/walk.hpp"

namespace rakelight {

class OcclusionPassGpu {
public:
    /// Draws the open share, of the maps' size.
    Drawn draw(const OcclusionWalk& walk, double reach_mm, const Camera& camera,
               const ImageGrid& grid, const WorkArea& area, const PixelMaps& maps, ShaderKind kind);

private:
    void upload(const OcclusionWalk& walk, double mm_per_px);

    OcclusionPassCompute compute_;
    VertexArray empty_;
    Buffer block_;
    std::optional<Program> parallel_;
    std::optional<Program> perspective_;
};

}  // namespace rakelight
