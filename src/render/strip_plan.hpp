#pragma once
// Private to render/: how the processor cuts a picture into strips.

#include <algorithm>
#include <cstdint>

#include "render/curvature_processor.hpp"
#include "render/renderer.hpp"
#include "render/triangle_bins.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// How far mixed pixels look for their neighbours.
inline constexpr int blend_px = 2;

/// How a work area is cut: strips of whole rows of tiles.
struct StripPlan {
    int rows = 0;    ///< of a strip
    int margin = 0;  ///< rows that curvature and the blending of steps look beyond
    int reach = 0;   ///< rows that occlusion looks beyond

    StripPlan(const RenderRequest& request, const WorkArea& area, int reach_px,
              std::int64_t strip_px)
        : reach(reach_px) {
        const double scale_px = request.curvature_scale_mm.value_or(0.0) * request.grid.px_per_mm;
        margin = curvature_reach_px(std::max(scale_px, 1e-3)) + blend_px;
        const int width = std::max(std::max(area.rect.width, request.grid.width), 1);
        // Margins are worked on twice, and waiting strips take memory: a compromise.
        const std::int64_t wanted = std::max<std::int64_t>(strip_px / width, margin + margin / 2);
        const int height = std::max(area.rect.height, request.grid.height);
        rows = static_cast<int>((std::min<std::int64_t>(wanted, height) + tile_px - 1) / tile_px) *
               tile_px;
    }
};

}  // namespace rakelight
