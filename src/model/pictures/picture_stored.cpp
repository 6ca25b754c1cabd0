#include "model/pictures/picture_stored.hpp"

#include <algorithm>

namespace rakelight {

namespace {

/// Of one row of texels.
std::uint64_t row_bytes_of(const TexelForm& form, std::uint64_t width, std::uint64_t alignment) {
    return (width * bytes_of(form) + alignment - 1) / alignment * alignment;
}

/// Of blocks that cover a picture of that size.
std::uint64_t block_count(std::uint64_t width, std::uint64_t height, std::uint64_t across,
                          std::uint64_t down) {
    return (width + across - 1) / across * ((height + down - 1) / down);
}

}  // namespace

std::uint64_t level_bytes(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                          std::uint64_t alignment) {
    check_picture_size(width, height);
    if (form.blocks) return bytes_of(*form.blocks) * block_count(width, height, 4, 4);
    if (form.astc) return 16 * block_count(width, height, form.astc->across, form.astc->down);
    return row_bytes_of(form.texels, width, alignment) * height;
}

PictureFile picture_from_stored(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes, std::uint64_t alignment) {
    if (form.blocks) return picture_from_blocks(*form.blocks, width, height, bytes);
    if (form.astc) return picture_from_astc(*form.astc, width, height, bytes);
    check_picture_size(width, height);
    PictureFile picture = picture_from_texels(form.texels, width, height, bytes,
                                              row_bytes_of(form.texels, width, alignment));
    if (form.alpha_unused)
        for (std::size_t i = picture.channels - 1; i < picture.values.size(); i += picture.channels)
            picture.values[i] = 65535;
    drop_opaque_alpha(picture);
    return picture;
}

PictureFile with_x_from_alpha(const StoredForm& form, PictureFile picture) {
    const bool may_be = form.blocks == BlockForm::bc3 || form.blocks == BlockForm::bc7;
    if (!may_be || picture.channels != 4) return picture;
    const int noise = form.blocks == BlockForm::bc7 ? 3 * 257 : 0;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const auto varies = [&](std::uint32_t c) {
        int low = picture.at(0, c), high = low;
        for (std::uint64_t i = 0; i < texels; ++i) {
            low = std::min<int>(low, picture.at(i, c));
            high = std::max<int>(high, picture.at(i, c));
        }
        return high - low > noise;
    };
    // A cut-out of one colour has no green that varies.
    if (varies(0) || varies(2) || !varies(1) || !varies(3)) return picture;
    PictureFile direction = blank_picture(picture.width, picture.height, Channels::rgb);
    for (std::uint64_t i = 0; i < texels; ++i) {
        direction.values[3 * i] = picture.at(i, 3);
        direction.values[3 * i + 1] = picture.at(i, 1);
    }
    return direction;
}

void refuse_stored(std::string_view container, std::string_view way) {
    throw UnreadablePicture("it is a " + std::string(container) + " file of " + std::string(way) +
                            ", which are not read; expected BC1 to BC7, flat ASTC of 0 to 1 (KTX), "
                            "or 8, 16 or 32 bits a "
                            "channel; save it as PNG or TIFF");
}

void check_one_layer(std::string_view container, std::uint64_t depth, std::uint64_t layers,
                     std::uint64_t faces) {
    if (depth <= 1 && layers <= 1 && faces <= 1) return;
    const std::string what = faces > 1   ? std::to_string(faces) + " faces of a cube"
                             : depth > 1 ? "a volume of " + std::to_string(depth) + " slices"
                                         : std::to_string(layers) + " layers";
    throw UnreadablePicture("it is a " + std::string(container) + " file of " + what +
                            "; expected one flat picture; save the one that belongs to the "
                            "material");
}

}  // namespace rakelight
