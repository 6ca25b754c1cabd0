#pragma once
// Pictures in blocks of 4 x 4 texels, as graphics cards take them. Private to model/.

#include "model/pictures/picture_texels.hpp"

namespace rakelight {

/// BC1 has a red, green, blue and an alpha of 0 or 1; BC2 and BC3 an alpha beside; BC4 one channel
/// and BC5 two, the signed ones from -1 to 1, which become codes of (v + 1) / 2. BC6H has halves of
/// red, green and blue, whose range is seen to as that of other floats; BC7 bytes with an alpha.
enum class BlockForm { bc1, bc2, bc3, bc4, bc4_signed, bc5, bc5_signed, bc6h, bc6h_signed, bc7 };

/// Bytes of one block.
std::uint32_t bytes_of(BlockForm form);

/// Blocks row by row, from the top. What is between a block's two ends is not rounded to 8 bits but
/// in BC7, which says how (Khronos Data Format Specification 1.3, chapters 18, S3TC, 19, RGTC, and
/// 20, BPTC; Microsoft's "Texture Block Compression in Direct3D 11" describes the same). A BC5
/// picture gets a blue of 0.
PictureFile picture_from_blocks(BlockForm form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes);

}  // namespace rakelight
