#pragma once
// Private to render/: an arc tangent that compilers turn into vector code.

#include <cmath>

namespace rakelight {

/// The angle from +x to (x, y), rad, for y >= 0: 0 to pi. Error at most 4e-7, checked in the unit
/// tests against the C++ library. The polynomial is 4.4.49 of Abramowitz and Stegun, "Handbook of
/// Mathematical Functions", by them within 2e-8.
inline float angle_of(float x, float y) {
    constexpr float quarter = 1.57079632679F;
    const float width = std::fabs(x);
    const float larger = width > y ? width : y;
    const float smaller = width > y ? y : width;
    const float t = smaller / (larger > 1e-30F ? larger : 1e-30F);
    const float s = t * t;
    float sum = 0.0028662257F;
    sum = sum * s - 0.0161657367F;
    sum = sum * s + 0.0429096138F;
    sum = sum * s - 0.0752896400F;
    sum = sum * s + 0.1065626393F;
    sum = sum * s - 0.1420889944F;
    sum = sum * s + 0.1999355085F;
    sum = sum * s - 0.3333314528F;
    const float low = t + t * s * sum;
    const float from_x = width > y ? low : quarter - low;
    return x < 0.0F ? 2.0F * quarter - from_x : from_x;
}

}  // namespace rakelight
