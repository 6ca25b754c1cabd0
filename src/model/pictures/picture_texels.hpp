#pragma once
// Texels as files store them, and what becomes of them in a PictureFile. Private to model/.

#include <array>
#include <cstdint>
#include <vector>

#include "model/pictures/picture_formats.hpp"

namespace rakelight {

/// What the channels of a texel are. Two that are no alpha are the x and y of a direction; the
/// picture gets a blue of 0, from which its third is found (texture_planes.cpp).
enum class Channels { grey, grey_alpha, red_green, rgb, rgba };

std::uint32_t count_of(Channels channels);
bool has_alpha(Channels channels);

/// How one number of a texel is stored. The signed ones are -1 to 1 (two's complement, the least
/// one counts as -1; OpenGL 4.6 core, 2.3.5), and become codes of (v + 1) / 2.
enum class Sample { unorm8, snorm8, unorm16, snorm16, half_float, single_float };

struct TexelForm {
    Sample sample = Sample::unorm8;
    Channels channels = Channels::rgba;
    bool blue_first = false;
    bool big_endian = false;
};

/// Bytes of one texel.
std::uint32_t bytes_of(const TexelForm& form);

/// IEEE 754, binary16.
float float_from_half(std::uint32_t bits);

/// A picture of this size, all 0; its size is checked first.
PictureFile blank_picture(std::uint64_t width, std::uint64_t height, Channels channels);

/// Numbers of any range, rows from the top, channels side by side, as many as `channels` says.
struct FloatTexels {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    Channels channels = Channels::grey;
    std::vector<float> values;
};

/// 0 to 1 as codes; directions of -1 to 1 as codes of (v + 1) / 2. Other values are spread over
/// black to white, and the picture's note says so. Alpha counts from 0 to 1. Refuses what is not
/// finite.
PictureFile picture_from_floats(const FloatTexels& texels);

/// Texels of one form, one row after the other.
/// @param row_bytes  from the start of one row to that of the next; all must be in `bytes`
PictureFile picture_from_texels(const TexelForm& form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes, std::uint64_t row_bytes);

/// Takes the alpha away when it is opaque all over: of formats that keep one as a matter of course.
void drop_opaque_alpha(PictureFile& picture);

/// Colours that were multiplied by their alpha, divided by it again where it is not 0.
void divide_by_alpha(PictureFile& picture);

/// Upright from an orientation as TIFF 6.0 counts them: 1 to 8, where rows and columns begin.
PictureFile upright(PictureFile picture, unsigned orientation);

/// Part of a file. Throws UnreadablePicture when it reaches beyond its end.
PictureBytes part_of(PictureBytes bytes, std::uint64_t offset, std::uint64_t size);

/// A whole number of a file; throws as part_of.
std::uint32_t number_at(PictureBytes bytes, std::uint64_t offset, bool big_endian = false);

}  // namespace rakelight
