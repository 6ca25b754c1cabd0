#pragma once
// The light that reliefs are shown in: a low lamp, a weak fill opposite to it, an open sky. Shared
// by the proof's raking light and the poses' tiles; gallery pages have the same numbers.

#include <algorithm>
#include <cmath>
#include <numbers>

namespace rakelight {

struct Direction {
    float x, y, z;
};

/// @param turn_deg    counter-clockwise from the right
/// @param height_deg  over the surface
inline Direction towards(double turn_deg, double height_deg) {
    const double turn = turn_deg * std::numbers::pi / 180.0;
    const double height = height_deg * std::numbers::pi / 180.0;
    return {static_cast<float>(std::cos(turn) * std::cos(height)),
            static_cast<float>(std::sin(turn) * std::cos(height)),
            static_cast<float>(std::sin(height))};
}

inline float dot(const Direction& a, const Direction& b) {
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

/// From where reliefs are judged: the upper left.
inline constexpr double usual_lamp_deg = 135.0;
inline constexpr double usual_lamp_height_deg = 25.0;

// Shares of the light, chosen by eye. The flat field under a lamp 20 degrees high comes out a
// middle grey, so that slopes towards the lamp and away from it both have room.
inline constexpr float lamp_share = 0.90F;
inline constexpr float fill_share = 0.14F;
inline constexpr float ambient_share = 0.05F;
inline constexpr double fill_height_deg = 12.0;

struct Lights {
    Direction lamp, fill;

    Lights(double lamp_deg, double height_deg)
        : lamp(towards(lamp_deg, height_deg)), fill(towards(lamp_deg + 180.0, fill_height_deg)) {}

    float of_lamp(const Direction& normal) const {
        return lamp_share * std::max(0.0F, dot(normal, lamp));
    }
    /// All but the lamp's: what reaches into its shade too.
    /// @param open  share of the sky over the point; squared, so that recesses read as recesses
    float of_rest(const Direction& normal, float open) const {
        return fill_share * std::max(0.0F, dot(normal, fill)) + ambient_share * open * open;
    }
    float on(const Direction& normal, float open) const {
        return of_lamp(normal) + of_rest(normal, open);
    }
};

/// sRGB's transfer curve (IEC 61966-2-1). @param linear  0..1
inline float srgb_from_linear(float linear) {
    if (linear <= 0.0031308F) return 12.92F * linear;
    return 1.055F * std::pow(linear, 1.0F / 2.4F) - 0.055F;
}

}  // namespace rakelight
