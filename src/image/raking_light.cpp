#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

#include "image/codes.hpp"
#include "image/proof.hpp"

namespace rakelight {
namespace {

struct Direction {
    float x, y, z;
};

/// @param turn_deg    counter-clockwise from the right
/// @param height_deg  over the surface
Direction towards(double turn_deg, double height_deg) {
    const double turn = turn_deg * std::numbers::pi / 180.0;
    const double height = height_deg * std::numbers::pi / 180.0;
    return {static_cast<float>(std::cos(turn) * std::cos(height)),
            static_cast<float>(std::sin(turn) * std::cos(height)),
            static_cast<float>(std::sin(height))};
}

float dot(const Direction& a, const Direction& b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

// Shares of the light, chosen by eye. The flat field under a lamp 20 degrees high comes out a
// middle grey, so that slopes towards the lamp and away from it both have room.
constexpr float lamp_share = 0.90F;
constexpr float fill_share = 0.14F;
constexpr float ambient_share = 0.05F;
constexpr double fill_height_deg = 12.0;
constexpr float background = 0.036F;  // linear: a quiet grey, darker than any lit flat

/// sRGB's transfer curve (IEC 61966-2-1). @param linear  0..1
float srgb_from_linear(float linear) {
    if (linear <= 0.0031308F) return 12.92F * linear;
    return 1.055F * std::pow(linear, 1.0F / 2.4F) - 0.055F;
}

struct Lights {
    Direction lamp, fill;

    /// @param open  share of the sky over the point; squared, so that recesses read as recesses
    float on(const Direction& normal, float open) const {
        return lamp_share * std::max(0.0F, dot(normal, lamp)) +
               fill_share * std::max(0.0F, dot(normal, fill)) + ambient_share * open * open;
    }
};

}  // namespace

Image16 raking_light(const Plane& nx, const Plane& ny, const Plane& nz, const Plane& coverage,
                     const Plane& occlusion, double lamp_deg, double height_deg) {
    assert(nx.values.size() == coverage.values.size());
    assert(ny.values.size() == nx.values.size() && nz.values.size() == nx.values.size());
    assert(occlusion.values.empty() || occlusion.values.size() == nx.values.size());
    const Lights lights{towards(lamp_deg, height_deg), towards(lamp_deg + 180.0, fill_height_deg)};
    Image16 picture(coverage.width, coverage.height, 1);
    std::uint64_t beyond_white = 0;  // nothing here is measured from, so it is not reported
    for (std::size_t i = 0; i < picture.codes.size(); ++i) {
        const float cover = coverage.values[i];
        float light = background;
        if (cover > 0.0F) {
            const float open = occlusion.values.empty() ? 1.0F : occlusion.values[i];
            const float lit = lights.on({nx.values[i], ny.values[i], nz.values[i]}, open);
            light += cover * (lit - background);
        }
        picture.codes[i] = encode_share(light, beyond_white);
    }
    return picture;
}

void encode_srgb(Image16& linear) {
    std::uint64_t beyond_white = 0;
    for (auto& code : linear.codes) {
        const float light = static_cast<float>(code) / 65535.0F;
        code = encode_share(srgb_from_linear(light), beyond_white);
    }
}

}  // namespace rakelight
