#include "struck/material.hpp"

#include <cmath>

namespace rakelight {
namespace {

constexpr float bronze_exposure = 1.4F;
constexpr Rgb bronze{0.70F, 0.47F, 0.26F};
constexpr Rgb brown_stain{0.06F, 0.042F, 0.03F};
constexpr Rgb black_stain{0.040F, 0.040F, 0.044F};
constexpr Rgb umber_wash{0.20F, 0.15F, 0.105F};

float luminance(const Rgb& colour) {
    return 0.2126F * colour[0] + 0.7152F * colour[1] + 0.0722F * colour[2];
}

Material made(const Rgb& reflects, const Rgb& shines, const Rgb& stain) {
    return {reflects, shines, stain,
            bronze_exposure * std::sqrt(luminance(bronze) / luminance(reflects))};
}

Material metal(const Rgb& struck, const Rgb& stain) {
    return made(struck, struck, stain);
}

/// Half of the light meets a satin surface twice.
Material satin(const Rgb& reflects, const Rgb& stain) {
    Rgb struck{};
    for (std::size_t c = 0; c < 3; ++c) struck[c] = 0.5F * reflects[c] * (1.0F + reflects[c]);
    return metal(struck, stain);
}

}  // namespace

Material material_of(ProofMaterial material) {
    switch (material) {
        case ProofMaterial::bronze:
            return metal(bronze, brown_stain);
        case ProofMaterial::brass:
            return satin({0.908F, 0.775F, 0.429F}, brown_stain);
        case ProofMaterial::copper:
            return satin({0.927F, 0.624F, 0.522F}, brown_stain);
        case ProofMaterial::gold:
            return satin({1.033F, 0.730F, 0.365F}, brown_stain);
        case ProofMaterial::silver:
            return satin({0.970F, 0.960F, 0.913F}, black_stain);
        case ProofMaterial::nickel:
            return satin({0.66F, 0.61F, 0.53F}, black_stain);
        case ProofMaterial::tin:
            return satin({0.83F, 0.83F, 0.81F}, black_stain);
        case ProofMaterial::zinc:
            return satin({0.74F, 0.75F, 0.77F}, black_stain);
        case ProofMaterial::iron:
            return satin({0.53F, 0.51F, 0.50F}, black_stain);
        case ProofMaterial::plaster:
            return made({0.83F, 0.82F, 0.78F}, {0.0F, 0.0F, 0.0F}, umber_wash);
        case ProofMaterial::wax:
            return made({0.78F, 0.66F, 0.42F}, {0.10F, 0.10F, 0.10F}, umber_wash);
    }
    return metal(bronze, brown_stain);
}

}  // namespace rakelight
