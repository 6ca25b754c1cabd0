#pragma once
// Blocks of 4 x 4 texels in 128 bits, each laid out by a mode of its own: BC7 for bytes, BC6H for
// halves. Both give every bit of a texel (Khronos Data Format Specification 1.3, chapter 20, BPTC;
// OpenGL's ARB_texture_compression_bptc says the same). Private to model/.

#include <array>
#include <cstdint>

namespace rakelight {

/// Texels row by row: red, green, blue, alpha.
using Bc7Texels = std::array<std::array<std::uint8_t, 4>, 16>;

/// Texels row by row: red, green, blue, each an IEEE 754 binary16.
using Bc6hTexels = std::array<std::array<std::uint16_t, 3>, 16>;

/// @param block  16 bytes
/// All 0, alpha too, where the block has the reserved mode.
Bc7Texels bc7_texels(const unsigned char* block);

/// @param block      16 bytes
/// @param is_signed  the format has negative numbers
/// All 0 where the block has a reserved mode.
Bc6hTexels bc6h_texels(const unsigned char* block, bool is_signed);

}  // namespace rakelight
