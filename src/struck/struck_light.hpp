#pragma once
// How a struck piece looks under the low lamp: one look for the poses' tiles and the proofs.

#include <array>

#include "image/lamps.hpp"
#include "struck/material.hpp"

namespace rakelight {

/// Linear light of one point, E as in raking_light (image/lamps.hpp):
///   L = X (R (s E_lamp + E_rest) + (1 - 0.8 p) s 0.43 G (n.h)^24),  R = (1 - p) M + p P
/// with X the exposure, M, G and P what the material reflects, shines and is stained with, p the
/// stain, h halfway from the lamp to the viewer, and s the lamp's share after cast shadows.
class StruckLight {
public:
    StruckLight(const Material& material, double lamp_deg, double lamp_height_deg);

    /// @param normal  a unit vector
    /// @param open    share of the sky over the point
    /// @param stain   0..1
    /// @param to      the lamp's light, which shadows take, then the rest; RGB each
    void light(const Direction& normal, float open, float stain, std::array<float, 6>& to) const;

private:
    Material material_;
    Lights lights_;
    Direction halfway_;
    float gloss_;
};

/// What is around a piece and in its hole, linear: the proof sheet's own quiet grey.
inline constexpr float around_piece = 0.027F;

}  // namespace rakelight
