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

/// Lists of triangles, one a tile of a strip, each in the mesh's order whatever the number of
/// threads, so that of two surfaces at one depth always the same is seen.
class TriangleBins {
public:
    /// @param fronts_only  leave out triangles whose backs are seen
    TriangleBins(const SampleMesh& mesh, const std::vector<std::size_t>& clusters,
                 const TileStrip& strip, int samples, bool fronts_only);

    /// @param tile  row by row within the strip
    std::span<const TriangleRef> of_tile(int tile) const {
        const std::size_t first = starts_[static_cast<std::size_t>(tile)];
        return {refs_.data() + first, starts_[static_cast<std::size_t>(tile) + 1] - first};
    }

private:
    std::vector<std::size_t> starts_;  ///< one a tile, and the end
    std::vector<TriangleRef> refs_;
};

}  // namespace rakelight
