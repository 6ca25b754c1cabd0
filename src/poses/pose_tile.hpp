#pragma once
// A pose to look at: struck on its blank and lit by a low lamp, and what a page needs to light it
// anew.

#include <memory>

#include "batch/row_taker.hpp"
#include "image/png8.hpp"

namespace rakelight {

struct TileLook {
    int relief_px = 600;   ///< longest side of the relief picture; never enlarged
    int surface_px = 300;  ///< the same of the surface picture
};

/// How high a pose without a relief is shown to rise over its field: 0.05 of the field's shorter
/// side, for the shadows alone (common practice: about 2 mm on a blank of 38). A shallower one is
/// not raised.
double tile_peak_mm(const BlankGeometry& blank);

/// Takes the rows of one picture of any size. Neither clock nor strips show in its pictures.
class PoseTile final : public RowTaker {
public:
    /// @param grid  of the rows that will come
    PoseTile(const BlankSettings& blank, const ImageGrid& grid, const TileLook& look = {});
    ~PoseTile() override;

    /// Needs coverage, height and normals; occlusion where it was rendered.
    void add(const PictureRows& rows) override;

    /// After the last row: a struck medal under a lamp from the upper left, 25 degrees high. RGB,
    /// sRGB codes. Linear light of one point, computed at the render's own size, then averaged by
    /// area, then encoded:
    ///   L = R (s E_lamp + E_rest) + (1 - 0.8 p) s 0.6 M (n.h)^24
    ///   R = (1 - p) M + p P;  p = t^2 (3 - 2 t), t = (0.97 - open) / 0.44 clamped to 0..1
    /// with E as in raking_light (image/lamps.hpp) times 1.4, M = (0.70, 0.47, 0.26) the metal,
    /// P = (0.06, 0.042, 0.03) the patina, both by eye, h halfway from the lamp to the viewer, and
    /// s the lamp's share after cast shadows, found at the picture's own size (heights as in the
    /// surface picture). What reaches over the blank's edge is shown faint, the hole and the
    /// outside as one quiet grey.
    Image8 relief() const;

    /// After the last row. Grey, five planes of equal size one under the other, so that the
    /// picture is five times as high as the pose:
    ///   1 normal x, 2 normal y  128 + round(127 v): v = (code - 128) / 127; worst error 1/254
    ///   3 open share, 4 piece   round(255 v); piece is the blank less its hole, and a half of
    ///                           what reaches over its edge
    ///   5 height over the field round(255 h / tile_peak_mm), h >= 0; the record has the peak
    /// Normals are those of the piece, rim and hole's edge included, averaged by area (so that
    /// x^2 + y^2 + z^2 = 1 only where the surface is smooth); (0, 0) outside.
    Image8 surface() const;

private:
    struct State;
    std::unique_ptr<State> state_;
};

inline constexpr const char* piece_file = "piece.png";
inline constexpr const char* surface_file = "surface.png";

}  // namespace rakelight
