#pragma once
// Images in memory: planes of floats as the renderer reads them back, and images of 16-bit codes
// as they are written.

#include <cstddef>
#include <cstdint>
#include <vector>

namespace rakelight {

/// One channel of float values, rows from the top, no padding.
struct Plane {
    int width = 0;
    int height = 0;
    std::vector<float> values;  ///< width * height

    Plane() = default;
    Plane(int w, int h, float fill = 0.0F)
        : width(w),
          height(h),
          values(static_cast<std::size_t>(w) * static_cast<std::size_t>(h), fill) {}
    float& at(int x, int y) { return values[static_cast<std::size_t>(y) * width + x]; }
    float at(int x, int y) const { return values[static_cast<std::size_t>(y) * width + x]; }
};

/// 16-bit codes, one (grey) or three (RGB) interleaved channels, rows from the top.
struct Image16 {
    int width = 0;
    int height = 0;
    int channels = 1;
    std::vector<std::uint16_t> codes;  ///< width * height * channels

    Image16() = default;
    Image16(int w, int h, int c)
        : width(w),
          height(h),
          channels(c),
          codes(static_cast<std::size_t>(w) * static_cast<std::size_t>(h) *
                static_cast<std::size_t>(c)) {}
};

}  // namespace rakelight
