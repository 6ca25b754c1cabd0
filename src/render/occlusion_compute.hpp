#pragma once
// Private to render/: the occlusion pass in compute shaders, where the context has them; see
// shaders/occlusion.comp.

#include <optional>

#include "render/maps.hpp"
#include "render/walk.hpp"

namespace rakelight {

class OcclusionPassCompute {
public:
    /// Whether the context has compute shaders and its storage buffers hold the heights with their
    /// margin.
    static bool can_draw(const OcclusionWalk& walk, const PixelMaps& maps);

    /// As OcclusionPassGpu::draw.
    Rows draw(const OcclusionWalk& walk, double reach_mm, const Camera& camera,
              const ImageGrid& grid, const WorkArea& area, const PixelMaps& maps);

private:
    struct Programs {
        Program heights;
        Program occlusion;
        explicit Programs(const std::string& defines);
    };
    struct View {
        const Camera& camera;
        const ImageGrid& grid;
        const WorkArea& area;
        const PixelMaps& maps;
        int margin_px;
    };
    void upload(const OcclusionWalk& walk, double reach_mm, const View& view);
    void store_heights(const Program& program, const View& view);

    Buffer walk_;
    Storage heights_;
    Storage open_shares_;
    std::optional<Programs> parallel_;
    std::optional<Programs> perspective_;
};

}  // namespace rakelight
