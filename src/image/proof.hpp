#pragma once
// The proof sheet: an 8-bit picture made only to be looked at, passes side by side with captions.

#include <cstddef>
#include <string>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct ProofPanel {
    std::string caption;   ///< ASCII
    Image16 image;         ///< scaled down by area averaging to the panel's size
};

struct ProofLook {
    int panel_px = 480;     ///< longer side of a panel
    int columns = 0;        ///< 0: chosen for a sheet about 3:2
};

/// The bytes of an 8-bit RGB PNG (stb_image_write). Panels keep their aspect; captions stand below.
std::vector<std::byte> encode_proof(const std::vector<ProofPanel>& panels, const std::string& title,
                                    const ProofLook& look = {});

/// The relief under a low lamp, for the proof: shading from the normal pass, darkened a little by
/// occlusion, the background a quiet grey.
/// @param nx,ny,nz   unit normals, view space
/// @param coverage   0..1
/// @param occlusion  0..1, may be an empty plane
/// @param lamp_deg   direction the light comes from, counter-clockwise from the right
/// @param height_deg lamp's height over the surface
Image16 raking_light(const Plane& nx, const Plane& ny, const Plane& nz, const Plane& coverage,
                     const Plane& occlusion, double lamp_deg, double height_deg);

}  // namespace rakelight
