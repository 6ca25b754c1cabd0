#pragma once
// 8-bit PNG: pictures to look at, and small ones that a page reads. The passes are 16-bit
// (png.hpp).

#include <cstddef>
#include <cstdint>
#include <span>
#include <stdexcept>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

/// 8-bit codes, one (grey) or three (RGB) interleaved channels, rows from the top.
struct Image8 {
    int width = 0;
    int height = 0;
    int channels = 1;
    std::vector<std::uint8_t> codes;  ///< width * height * channels

    Image8() = default;
    Image8(int w, int h, int c)
        : width(w),
          height(h),
          channels(c),
          codes(static_cast<std::size_t>(w) * static_cast<std::size_t>(h) *
                static_cast<std::size_t>(c)) {}
};

enum class PngEffort {
    quick,  ///< a few ms for a megabyte
    small,  ///< about a sixth fewer bytes, for several times the time
};

/// The bytes of a PNG file without any chunk but those that must be (PNG specification, third
/// edition): not interlaced, no colour space stated. Same input, same bytes.
/// @param image  at least one pixel, less than 2 GiB of codes
std::vector<std::byte> encode_png8(const Image8& image, PngEffort effort = PngEffort::quick);

/// Why bytes are no such picture, in words that end a sentence.
struct UnreadablePng : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Reads 8-bit grey and RGB, not interlaced, any filter; every checksum is checked.
/// @param longest_side  px; a picture that claims more is not read
/// Throws UnreadablePng.
Image8 decode_png8(std::span<const std::byte> file, int longest_side = 8192);

/// Rounded from 16 bits: code / 257, so that 65535 becomes 255.
Image8 image8_from(const Image16& image);
/// Exact: code * 257.
Image16 image16_from(const Image8& image);

}  // namespace rakelight
