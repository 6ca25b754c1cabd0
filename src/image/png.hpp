#pragma once
// 16-bit PNG, linear: no gAMA, sRGB or iCCP chunk (PNG specification, third edition).

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct PngInfo {
    double px_per_m = 0.0;  ///< pHYs, rounded to a whole number; 0: none
    std::vector<std::pair<std::string, std::string>> text;  ///< tEXt, in this order; Latin-1
};

/// The bytes of a PNG file: 16 bits a channel, grey or RGB, not interlaced. Same input, same bytes.
/// @param image  at least 1 x 1 px, one or three channels
/// @param info   keywords of 1 to 79 characters without spaces at the ends; texts without NUL
/// Throws Error(not_written) when the image or its resolution is too large for the format,
/// std::logic_error when a keyword or text is not allowed.
std::vector<std::byte> encode_png(const Image16& image, const PngInfo& info);

/// UTF-8 as the Latin-1 that tEXt holds; what Latin-1 lacks becomes '?', one for each character.
std::string latin1_from_utf8(const std::string& text);

}  // namespace rakelight
