#pragma once
// A pose of a scene that has a relief, to look at: the finished relief struck on its blank.

#include "poses/pose_tile.hpp"
#include "relief/recipe.hpp"
#include "struck/struck_piece.hpp"

namespace rakelight {

class ReliefTile {
public:
    /// @param height_mm  the finished relief, of the pixels of `grid`
    /// @param settings   of the scene, whose patina is taken; metal and lamp are those of PoseTile
    ReliefTile(const Plane& height_mm, const ReliefSettings& settings, const BlankGeometry& blank,
               const ImageGrid& grid, const TileLook& look = {});

    /// RGB, sRGB codes: StruckPiece::lit.
    Image8 relief() const;

    /// As PoseTile::surface, but normals and heights are those of the relief, its rim and its hole
    /// included; the open share is that of the sky, and heights, over the lowest one, are shares of
    /// peak_mm().
    Image8 surface() const;

    /// From the lowest point, or the field where none is lower, to the highest; tile_peak_mm if
    /// that is more.
    double peak_mm() const { return peak_mm_; }

private:
    StruckPiece piece_;
    double low_mm_, peak_mm_;
    PixelSize surface_size_;
};

}  // namespace rakelight
