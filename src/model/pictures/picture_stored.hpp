#pragma once
// What the containers of graphics cards (DDS, KTX) hold: blocks, or texels one by one. Private to
// model/.

#include <optional>
#include <string>
#include <string_view>

#include "model/pictures/picture_astc.hpp"
#include "model/pictures/picture_blocks.hpp"

namespace rakelight {

/// How a picture's largest level is stored.
struct StoredForm {
    std::optional<BlockForm> blocks{};
    std::optional<AstcForm> astc{};
    TexelForm texels{};         ///< where there are neither
    bool alpha_unused = false;  ///< the fourth channel is filling

    bool is_compressed() const { return blocks || astc; }
};

inline StoredForm stored(BlockForm form) {
    return {.blocks = form};
}
inline StoredForm stored(Sample sample, Channels channels, bool blue_first = false) {
    return {.texels = {sample, channels, blue_first, false}};
}

/// Bytes of the whole level. The size is checked first.
std::uint64_t level_bytes(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                          std::uint64_t alignment);

/// @param alignment  of rows that are not blocks: their length in bytes is a multiple of it
PictureFile picture_from_stored(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes, std::uint64_t alignment);

/// A normal map in BC3 or BC7 keeps x in alpha at times, which has the finest steps, and y in
/// green: red and blue are then the same all over (in BC7 but for the lowest bits, which channels
/// share). Such a picture gets x back into red and a blue of 0; others stay.
PictureFile with_x_from_alpha(const StoredForm& form, PictureFile picture);

/// Throws what a user hears of a way to store texels that is not read.
/// @param way  "ETC blocks", "format 42"
[[noreturn]] void refuse_stored(std::string_view container, std::string_view way);

/// Refuses cube maps, volumes and stacks, which no material of a surface is.
void check_one_layer(std::string_view container, std::uint64_t depth, std::uint64_t layers,
                     std::uint64_t faces);

}  // namespace rakelight
