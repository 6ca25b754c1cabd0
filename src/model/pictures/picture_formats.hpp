#pragma once
// One reader for each format of pictures, behind read_picture. All throw UnreadablePicture and
// std::bad_alloc. Private to model/.

#include "model/pictures/image_file.hpp"

namespace rakelight {

using PictureBytes = std::span<const unsigned char>;

struct PictureSize {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
};

/// What the head of such a picture says; 0 where it says nothing.
PictureSize common_picture_size(PictureBytes head);
PictureSize webp_picture_size(PictureBytes head);

/// PNG, JPEG, TGA, BMP, PSD, and the first picture of a GIF.
PictureFile read_common_picture(PictureBytes bytes);

/// The first picture of a TIFF file, of either byte order and in BigTIFF too (TIFF 6.0): grey, RGB
/// and palettes of whole numbers up to 32 bits or of floats; strips or tiles, in one plane or
/// several; JPEG's YCbCr. Turned upright.
PictureFile read_tiff_picture(PictureBytes bytes);

/// WebP, lossy and lossless (RFC 9649); no animations.
PictureFile read_webp_picture(PictureBytes bytes);

/// The first part of an OpenEXR file: R, G, B, A; X, Y, Z; R, G; Y, A; or one channel alone.
PictureFile read_exr_picture(PictureBytes bytes);

/// DDS, its largest level: BC1 to BC7, whole numbers by their masks, halves and floats.
PictureFile read_dds_picture(PictureBytes bytes);

/// KTX 1, its largest level: BC1 to BC7, flat ASTC and what is not compressed.
PictureFile read_ktx1_picture(PictureBytes bytes);

/// KTX 2, the same, also packed by Zstandard or zlib; not Basis Universal.
PictureFile read_ktx2_picture(PictureBytes bytes);

}  // namespace rakelight
