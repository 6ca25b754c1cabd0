#pragma once
// Private to render/: the curvature pass in compute shaders, where the context has them; see
// shaders/curvature.comp.

#include <optional>
#include <vector>

#include "render/curvature_processor.hpp"
#include "render/maps.hpp"

namespace rakelight {

class CurvaturePassCompute {
public:
    /// Whether the context has compute shaders and its storage buffers hold the surface.
    static bool can_draw(const PixelMaps& maps);

    /// As CurvaturePassGpu::draw.
    Rows draw(const std::vector<SmoothingLevel>& levels, const Camera& camera,
              const ImageGrid& grid, const WorkArea& area, const PixelMaps& maps);

private:
    struct Programs {
        Program surface;
        Program fit;
        Program smooth;
        Program quotient;
        explicit Programs(const std::string& defines);
    };

    Buffer block_;
    Storage surfaces_;
    Storage first_;
    Storage second_;
    Storage means_;
    std::optional<Programs> parallel_;
    std::optional<Programs> perspective_;
};

}  // namespace rakelight
