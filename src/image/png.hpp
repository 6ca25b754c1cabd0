#pragma once
// 16-bit PNG, linear: no gAMA, sRGB or iCCP chunk (PNG specification, third edition).

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct PngInfo {
    double px_per_m = 0.0;                                  ///< pHYs, rounded to a whole number; 0: none
    std::vector<std::pair<std::string, std::string>> text;  ///< tEXt, in this order; Latin-1
};

/// The bytes of a PNG file. Same input, same bytes.
/// Throws Error(not_written) when the image is too large for the format.
std::vector<std::byte> encode_png(const Image16& image, const PngInfo& info);

}  // namespace rakelight
