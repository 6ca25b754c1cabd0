#pragma once
// The proof sheet: an 8-bit picture made only to be looked at, passes side by side with captions.

#include <cstddef>
#include <string>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct ProofPanel {
    std::string caption;  ///< ASCII, lines ended by \n; each is cut to the panel's width
    Image16 image;        ///< scaled down by area averaging to the panel's size
};

struct ProofLook {
    int panel_px = 480;  ///< longer side of a panel; a smaller image is not enlarged
    int columns = 0;     ///< 0: chosen for a sheet about 3:2
};

/// Where things lie on a sheet, all in px. Every panel has a cell of one size, as wide and high as
/// the widest and the highest panel; a panel stands at the middle of its cell's bottom edge, its
/// caption below.
struct ProofLayout {
    static constexpr int margin = 24;        ///< around everything
    static constexpr int gap = 16;           ///< between neighbouring cells
    static constexpr int title_height = 36;  ///< above the cells; 0 without a title
    static constexpr int caption_height = 26;
    static constexpr int line_height = 22;  ///< of each further line of the longest caption

    int columns = 0, rows = 0;
    int cell_width = 0, cell_height = 0;  ///< without the caption
    int captions = 0;                     ///< height below each cell
    int top = 0;                          ///< of the first row
    int width = 0, height = 0;            ///< of the sheet
};

/// The layout that encode_proof uses.
ProofLayout lay_out_proof(const std::vector<ProofPanel>& panels, const std::string& title,
                          const ProofLook& look = {});

/// The bytes of an 8-bit RGB PNG. Panels keep their aspect; captions stand below.
/// Same input, same bytes. @param panels  at least one
/// Throws Error(not_written) when the sheet would be larger than half a billion pixels.
std::vector<std::byte> encode_proof(const std::vector<ProofPanel>& panels, const std::string& title,
                                    const ProofLook& look = {});

/// The relief under a low lamp, for the proof: shading from the normal pass, darkened a little by
/// occlusion, the background a quiet grey. Codes in proportion to the light: to be made smaller
/// first, since light adds up and codes for the eye do not, and then encoded by encode_srgb.
///
/// E = 0.90 max(0, n.lamp) + 0.14 max(0, n.fill) + 0.05 open^2, at most 0.98; the fill comes
/// from the side opposite to the lamp, 12 degrees high, and models the slopes in the lamp's shade.
/// @param nx,ny,nz   unit normals, view space
/// @param coverage   0..1
/// @param occlusion  0..1, may be an empty plane
/// @param lamp_deg   direction the light comes from, counter-clockwise from the right
/// @param height_deg lamp's height over the surface
Image16 raking_light(const Plane& nx, const Plane& ny, const Plane& nz, const Plane& coverage,
                     const Plane& occlusion, double lamp_deg, double height_deg);

/// From codes in proportion to the light to sRGB ones (IEC 61966-2-1).
void encode_srgb(Image16& linear);

}  // namespace rakelight
