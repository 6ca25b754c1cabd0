#pragma once
// Pictures in ASTC: blocks of 16 bytes for 4 x 4 to 12 x 12 texels. Private to model/.

#include <array>
#include <optional>

#include "model/pictures/picture_texels.hpp"

namespace rakelight {

/// Texels of one block, across and down.
struct AstcForm {
    std::uint32_t across = 4;
    std::uint32_t down = 4;
    bool is_srgb = false;  ///< its steps are those of 8 bits, else those of a half
};

/// The 14 sizes of flat blocks in the order of OpenGL's and Vulkan's numbers.
/// @param size  from 0; none beyond 13
std::optional<AstcForm> astc_form(std::uint32_t size, bool is_srgb);

/// Blocks row by row, from the top (Khronos Data Format Specification 1.3, chapter 23, the profile
/// LDR). Codes are taken as they stand. Where red, green and blue are the same all over, the
/// picture has one channel of them, and with an alpha two: ASTC has no pictures of fewer channels
/// than four. Refuses blocks that hold values beyond 0 to 1 or break the format's rules.
PictureFile picture_from_astc(const AstcForm& form, std::uint64_t width, std::uint64_t height,
                              PictureBytes bytes);

}  // namespace rakelight
