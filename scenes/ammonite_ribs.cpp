#include "ammonite_ribs.hpp"

#include <cmath>
#include <glm/common.hpp>

#include "ammonite_form.hpp"
#include "value_noise.hpp"

namespace {

// Widths and offsets of ribs are counted in spacings of the primaries.
constexpr double kPrimaryHalfWidth = 0.20;
constexpr double kSecondaryHalfWidth = 0.115;
constexpr double kForkSpread = 0.25;  // the secondaries reach the venter evenly spaced

struct Rib {
    double crest;
    double fork_flank;  // where it forks
    double front_end;   // where its branches reach the venter
    double rear_end;
    double strength;
    bool rear_is_free;  // the rear branch was intercalated and does not reach the fork
};

Rib rib_number(int number) {
    Rib rib{};
    rib.crest = number + 0.07 * jitter(number, 11);
    rib.fork_flank = 0.36 + 0.06 * jitter(number, 12);
    rib.front_end = number + kForkSpread + 0.05 * jitter(number, 13);
    rib.rear_end = number - kForkSpread + 0.05 * jitter(number, 14);
    rib.strength = 1.0 + 0.13 * jitter(number, 15);
    rib.rear_is_free = jitter(number, 16) > 0.72;
    return rib;
}

// A straight ramp from 0 on, with its corner rounded.
double soft_ramp(double x) {
    constexpr double corner = 0.06;
    return 0.5 * (x + std::sqrt(x * x + corner * corner));
}

double crest_profile(double distance, double half_width) {
    const double x = distance / half_width;
    return std::exp(-x * x);
}

// One rib's height over its valley, at a place given in spacings and flank.
double rib_profile(const Rib& rib, double clock, double flank) {
    const double split = soft_ramp(flank - rib.fork_flank) / (1.0 - rib.fork_flank);
    const double half_width =
        glm::mix(kPrimaryHalfWidth, kSecondaryHalfWidth, glm::min(1.0, 2.0 * split));
    const double front = glm::mix(rib.crest, rib.front_end, split);
    const double rear = glm::mix(rib.crest, rib.rear_end, split);
    const double joined = glm::smoothstep(rib.fork_flank - 0.02, rib.fork_flank + 0.22, flank);
    const double front_height = crest_profile(clock - front, half_width);
    const double rear_height =
        crest_profile(clock - rear, half_width) * (rib.rear_is_free ? joined : 1.0);
    // A smooth union: one crest below the fork, two above it, and no sum at the fork.
    const double cubes =
        front_height * front_height * front_height + rear_height * rear_height * rear_height;
    return rib.strength * std::cbrt(cubes);
}

// How strong a rib is on its way from the umbilical wall (< 0) to the keel (1).
double strength_along(double flank) {
    const double rise = glm::smoothstep(-0.42, 0.04, flank);
    const double bulla = 0.30 * std::exp(-std::pow((flank - 0.10) / 0.13, 2.0));
    const double swell = 0.12 * std::exp(-std::pow((flank - 0.72) / 0.20, 2.0));
    const double fade = glm::mix(1.0, 0.30, glm::smoothstep(0.84, 0.97, flank));
    return rise * (0.80 + bulla + swell) * fade;
}

}  // namespace

double RibPattern::clock(double growth_rad) const {
    const double gain = std::log(primaries_gain_per_whorl_);
    return primaries_on_last_whorl_ / gain * (std::exp(gain * growth_rad / kTurn) - 1.0);
}

double RibPattern::height(double growth_rad, double flank) const {
    const double now = clock(growth_rad);
    const int nearest = static_cast<int>(std::lround(now));
    double cubes = 0.0;
    for (int number = nearest - 1; number <= nearest + 1; ++number) {
        const double height = rib_profile(rib_number(number), now, flank);
        cubes += height * height * height;
    }
    const double whorls_left = -growth_rad / kTurn;
    const double grown = glm::smoothstep(5.5, 3.8, whorls_left) *
                         glm::mix(1.0, 0.6, glm::smoothstep(0.9, 4.0, whorls_left));
    return full_height_ * grown * strength_along(flank) * std::cbrt(cubes);
}
