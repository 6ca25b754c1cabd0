#pragma once
// The finished relief on its blank, to be lit from any side.

#include "framing/blank.hpp"
#include "image/area_reduction.hpp"
#include "image/png8.hpp"
#include "struck/struck_light.hpp"

namespace rakelight {

struct LampPlace {
    double turn_deg = usual_lamp_deg;  ///< counter-clockwise from the right
    double height_deg = usual_lamp_height_deg;
};

/// Keeps about 40 bytes for each pixel that it is lit by, and takes as many while it is lit.
class StruckPiece {
public:
    /// @param height_mm  the finished relief, mm over the field, of the pixels of `grid`
    /// @param size       of the pictures that will be made. The piece is lit pixel by pixel at the
    ///                   size of `height_mm`, or, where that is much more than twice `size`, at the
    ///                   size that comes nearest to twice when heights are averaged over squares.
    StruckPiece(const Plane& height_mm, const BlankGeometry& blank, const ImageGrid& grid,
                PixelSize size, const ProofSettings& settings);

    /// RGB, sRGB codes. Where the blank stands higher than the relief, it is the blank, with
    /// rounded edges (struck/blank_surface.hpp); its hole and what is outside are one quiet grey.
    /// Light as in StruckLight, the stain that of stain_left times the scene's patina, shadows
    /// those of lit_share, open sky that of closed_sky. Light of the pixels is averaged by area;
    /// what is over 0.7 is pressed together, 0.7 + 0.3 (1 - exp(-(L - 0.7) / 0.3)), so that lights
    /// keep form.
    Image8 lit(const LampPlace& lamp) const;

    /// The stain, before the scene's share of it; 0 outside.
    const Plane& stain() const { return stain_; }

    // For lamps of somebody else: the piece at the size at which it is lit, pixel by pixel.
    const ImageGrid& grid() const { return grid_; }
    /// Share of the pixel, less the hole.
    const Plane& piece() const { return piece_; }
    /// mm over the field, times the share of the pixel.
    const Plane& height_mm() const { return height_mm_; }
    /// Share of the sky, 1 in the open.
    const Plane& open() const { return open_; }
    Direction normal(std::size_t pixel) const;

private:
    void put_on_blank(const Plane& relief_mm, const BlankGeometry& blank);
    void light_rows(const StruckLight& light, const Plane& lit, int first, int end,
                    std::vector<std::uint16_t>& codes) const;

    ImageGrid grid_;
    PixelSize size_;
    Material material_;
    float patina_;
    Plane height_mm_;
    Plane slope_x_, slope_y_;  ///< up to the right, up to the top
    Plane piece_;              ///< share of the pixel, less the hole
    Plane open_, stain_;
};

}  // namespace rakelight
