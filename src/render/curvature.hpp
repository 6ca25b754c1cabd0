#pragma once
// Private to render/: the curvature pass on the GPU; see curvature_processor.hpp for the method.

#include <optional>

#include "render/curvature_compute.hpp"
#include "render/maps.hpp"

namespace rakelight {

class CurvaturePassGpu {
public:
    /// Draws mean curvature at a scale, 1/mm, of the maps' size; 0 at pixels
    /// that a depth step runs through.
    /// @param scale_mm  on the blank, > 0
    Drawn draw(double scale_mm, const Camera& camera, const ImageGrid& grid, const WorkArea& area,
               const PixelMaps& maps, ShaderKind kind);

private:
    struct Programs {
        Program fit;
        Program smooth;
        Program quotient;
        explicit Programs(const std::string& defines);
    };

    CurvaturePassCompute compute_;
    VertexArray empty_;
    Buffer block_;
    std::optional<Programs> parallel_;
    std::optional<Programs> perspective_;
};

}  // namespace rakelight
