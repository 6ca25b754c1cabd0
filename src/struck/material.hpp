#pragma once
// What a struck piece is shown in.

#include <array>

#include "scene/relief_settings.hpp"

namespace rakelight {

using Rgb = std::array<float, 3>;  ///< linear sRGB; a pure gold's red reaches beyond 1

struct Material {
    Rgb reflects;    ///< of the lamp's light
    Rgb shines;      ///< the colour of its gloss: a metal's own, next to nothing on plaster
    Rgb stain;       ///< what its patina reflects
    float exposure;  ///< on all light, so that a bright material keeps its lights
};

/// Reflectances R of metals at normal incidence, ((n - 1)^2 + k^2) / ((n + 1)^2 + k^2), in linear
/// sRGB under D65: integrated from 400 to 700 nm with the fits of Wyman, Sloan and Shirley 2013 to
/// the observer of CIE 1931. A satin surface is taken to be met by half of the light twice: it
/// reflects R (1 + R) / 2. n and k, recalled from memory, of
///   gold, copper   Johnson and Christy 1972, Phys. Rev. B 6, 4370
///   silver         Lynch and Hunter in Palik 1985, Handbook of Optical Constants of Solids
///   brass          Querry 1985, Optical constants (70 % copper, 30 % zinc)
///   nickel, iron   Johnson and Christy 1974, Phys. Rev. B 9, 5056; to 0.01, at 650, 550, 450 nm
///   tin, zinc      Born and Wolf, Principles of Optics, optical constants at 589 nm; their faint
///                  tints by eye
/// Bronze is by eye, the metal of the poses' tiles; so are plaster, wax and all patinas.
/// Exposure is 1.4 sqrt(Y of bronze / Y), Y = 0.2126 R + 0.7152 G + 0.0722 B (IEC 61966-2-1): half
/// of what a camera would do, so that silver stays lighter than iron.
Material material_of(ProofMaterial material);

}  // namespace rakelight
