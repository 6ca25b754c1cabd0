#pragma once
// Private to render/: some rows of a work area's maps in memory.

#include <vector>

#include "render/renderer.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// Rows [first_row, first_row + rows) of the work area; the maps as in SurfaceMaps.
struct SurfaceRows {
    int width = 0;
    int first_row = 0;
    int rows = 0;
    std::vector<float> lift_mm;
    std::vector<float> normal_coverage;
    std::vector<float> lift_range_mm;
    std::vector<float> detail_mm;           ///< what pictures add to the lift; empty: nothing
    std::vector<float> contour;             ///< empty when not asked for
    std::vector<std::vector<float>> masks;  ///< share of the pixel, one a part asked for
    std::vector<std::vector<float>> mask_lifts_mm;  ///< of the part's samples, as long as masks
    std::vector<std::uint32_t> part_numbers;        ///< plus one; empty when not asked for
    Undercut<std::vector<float>> undercut;          ///< empty when not asked for
    Steep<std::vector<float>> steep;                ///< the same

    SurfaceMaps view() const {
        return {lift_mm.data(), normal_coverage.data(), lift_range_mm.data(), width, rows};
    }
    /// Of a row of the work area.
    std::size_t index(int x, int row) const {
        return static_cast<std::size_t>(row - first_row) * width + x;
    }
};

}  // namespace rakelight
