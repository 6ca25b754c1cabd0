#pragma once
// What a JPEG file must keep to before its decoder sees it. Private to model/.

#include <span>

namespace rakelight {

/// Whether a Huffman table of the file states more than 256 codes, for values of 8 bits: stb_image
/// 2.27, which Debian 12 has, writes past the end of its own table then. False for what is no JPEG.
bool has_overfull_jpeg_table(std::span<const unsigned char> file);

}  // namespace rakelight
