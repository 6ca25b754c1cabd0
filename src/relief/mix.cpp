#include "relief/mix.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "image/pixels.hpp"

namespace rakelight {
namespace {

float multiply(float below, float above) {
    return below * above;
}

float screen(float below, float above) {
    return below + above - below * above;
}

float hard_light(float below, float above) {
    return above <= 0.5F ? multiply(below, 2.0F * above) : screen(below, 2.0F * above - 1.0F);
}

float soft_light(float below, float above) {
    if (above <= 0.5F) return below - (1.0F - 2.0F * above) * below * (1.0F - below);
    const float d =
        below <= 0.25F ? ((16.0F * below - 12.0F) * below + 4.0F) * below : std::sqrt(below);
    return below + (2.0F * above - 1.0F) * (d - below);
}

}  // namespace

float mixed(MixMode mode, float below, float above) {
    switch (mode) {
        case MixMode::normal:
            return above;
        case MixMode::multiply:
            return multiply(below, above);
        case MixMode::screen:
            return screen(below, above);
        case MixMode::overlay:
            return hard_light(above, below);
        case MixMode::darken:
            return std::min(below, above);
        case MixMode::lighten:
            return std::max(below, above);
        case MixMode::hard_light:
            return hard_light(below, above);
        case MixMode::soft_light:
            return soft_light(below, above);
        case MixMode::difference:
            return std::abs(below - above);
        case MixMode::add:
            break;
    }
    assert(false);
    return above;
}

void mix_onto(Plane& below, const Plane& above, const Plane& share, MixMode mode) {
    assert(above.values.size() == below.values.size());
    assert(share.values.size() == below.values.size());
    for_pixels(below, [&](std::size_t i) {
        const float s = share.values[i];
        const float b = below.values[i];
        below.values[i] = (1.0F - s) * b + s * mixed(mode, b, above.values[i]);
    });
}

}  // namespace rakelight
