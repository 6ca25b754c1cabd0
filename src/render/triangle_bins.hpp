#pragma once
// Private to render/: which triangles may touch which tile of a strip.

#include <cstdint>
#include <span>
#include <vector>

#include "render/sample_mesh.hpp"

namespace rakelight {

/// The raster on the processor works on tiles of so many pixels a side, from the work area's
/// corner.
inline constexpr int tile_px = 32;
/// Pixels around a tile that it knows too: contour looks half a pixel beyond.
inline constexpr int tile_guard_px = 1;

/// Rows of tiles that are rastered together.
struct TileStrip {
    int columns = 0;
    int first_row = 0;
    int end_row = 0;
    int tiles() const { return columns * (end_row - first_row); }
};

/// Neighbours among the backs of a tile.
struct BackRun {
    std::size_t end = 0;   ///< where the next run begins in TileTriangles::all
    float nearness = 0.0;  ///< of their nearest corner
};

/// Those that may touch a tile.
struct TileTriangles {
    std::span<const TriangleRef> all;
    std::size_t fronts = 0;         ///< so many, the first, show their fronts
    std::span<const BackRun> runs;  ///< of the others, in their order; some are empty
};

/// Lists of triangles, one a tile of a strip, whatever the number of threads in the same order, so
/// that of two surfaces at one depth always the same is seen: those whose fronts are seen, in the
/// mesh's order, then the others. Of a closed mesh these lie behind, and are refused without a look
/// at their samples.
class TriangleBins {
public:
    TriangleBins(const SampleMesh& mesh, const std::vector<std::size_t>& clusters,
                 const TileStrip& strip, int samples);

    /// @param tile  row by row within the strip
    TileTriangles of_tile(int tile) const {
        const std::size_t* starts = &starts_[2 * static_cast<std::size_t>(tile)];
        return {{refs_.data() + starts[0], starts[2] - starts[0]},
                starts[1] - starts[0],
                {runs_.data() + static_cast<std::size_t>(tile) * batches_, batches_}};
    }

private:
    std::vector<std::size_t> starts_;  ///< of a tile's fronts and of its backs, and the end
    std::vector<TriangleRef> refs_;
    std::size_t batches_ = 0;    ///< of clusters: what one has in a tile is a run
    std::vector<BackRun> runs_;  ///< tile by tile
};

}  // namespace rakelight
