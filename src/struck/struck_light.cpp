#include "struck/struck_light.hpp"

#include <algorithm>
#include <cmath>

namespace rakelight {
namespace {

constexpr float gloss_share = 0.6F;  // under the usual exposure
constexpr float usual_exposure = 1.4F;
constexpr float gloss_under_patina = 0.8F;  // of the gloss is lost

float power_24(float x) {
    const float x2 = x * x, x4 = x2 * x2, x8 = x4 * x4;
    return x8 * x8 * x8;
}

Direction halfway_to_viewer(const Direction& lamp) {
    const float length =
        std::sqrt(lamp.x * lamp.x + lamp.y * lamp.y + (lamp.z + 1.0F) * (lamp.z + 1.0F));
    return {lamp.x / length, lamp.y / length, (lamp.z + 1.0F) / length};
}

}  // namespace

StruckLight::StruckLight(const Material& material, double lamp_deg, double lamp_height_deg)
    : material_(material),
      lights_(lamp_deg, lamp_height_deg),
      halfway_(halfway_to_viewer(lights_.lamp)),
      gloss_(gloss_share * (material.exposure / usual_exposure)) {}

void StruckLight::light(const Direction& normal, float open, float stain,
                        std::array<float, 6>& to) const {
    const float by_lamp = material_.exposure * lights_.of_lamp(normal);
    const float by_rest = material_.exposure * lights_.of_rest(normal, open);
    const float gloss = gloss_ * (1.0F - gloss_under_patina * stain) *
                        power_24(std::max(0.0F, dot(normal, halfway_)));
    for (std::size_t c = 0; c < 3; ++c) {
        const float metal = material_.reflects[c];
        const float reflects = metal + stain * (material_.stain[c] - metal);
        to[c] = reflects * by_lamp + gloss * material_.shines[c];
        to[3 + c] = reflects * by_rest;
    }
}

}  // namespace rakelight
