#pragma once
// Pictures from bytes of any origin. Runs in the child process only. Private to model/.

#include <cstdint>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

namespace rakelight {

/// Rows from the top, channels side by side; 0 to 65535, linear as the file has them: 8-bit values
/// times 257.
struct PictureFile {
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint32_t channels = 0;  ///< grey; grey, alpha; red, green, blue; red, green, blue, alpha
    std::vector<std::uint16_t> values;
    std::string note;  ///< what was done to values that are no codes, for a user; mostly empty

    bool has_alpha() const { return channels == 2 || channels == 4; }
    std::uint16_t at(std::uint64_t texel, std::uint32_t channel) const {
        return values[texel * channels + channel];
    }
};

/// Why a picture cannot be used, in words that end a sentence.
struct UnreadablePicture : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// Larger pictures are not read: a file of a few bytes can claim any size.
inline constexpr std::uint32_t most_picture_side = 16384;
inline constexpr std::uint64_t most_picture_texels = std::uint64_t{1} << 26;

/// A picture that this process has no memory for, by its own limits.
struct NoRoomForPicture : UnreadablePicture {
    using UnreadablePicture::UnreadablePicture;
};

/// Throws UnreadablePicture when a picture of that size is not read, NoRoomForPicture with figures
/// when reading it would take more than this process may have.
void check_picture_size(std::uint64_t width, std::uint64_t height);

/// How many pixels a picture says that it has, from its first bytes; 0 where they do not say, or say
/// more than is read. Not known of TIFF and OpenEXR.
std::uint64_t claimed_texels(std::span<const unsigned char> head);

/// Reads the formats of picture_formats.hpp, told by their first bytes. Where a file has numbers of
/// more than 16 bits, they are rounded to 16; a picture of two channels that are no alpha, as
/// normal maps have, gets a blue of 0. No curve is applied or undone: codes are taken as they
/// stand. Throws UnreadablePicture, which names the format where it is known but not read;
/// std::bad_alloc.
PictureFile read_picture(std::span<const unsigned char> bytes);

}  // namespace rakelight
