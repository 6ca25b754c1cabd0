#include "model/picture_stored.hpp"

#include <algorithm>

namespace rakelight {

std::uint64_t row_bytes_of(const StoredForm& form, std::uint64_t width, std::uint64_t alignment) {
    if (form.blocks) return (width + 3) / 4 * bytes_of(*form.blocks);
    return (width * bytes_of(form.texels) + alignment - 1) / alignment * alignment;
}

std::uint64_t level_bytes(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                          std::uint64_t alignment) {
    check_picture_size(width, height);
    return row_bytes_of(form, width, alignment) * (form.blocks ? (height + 3) / 4 : height);
}

PictureFile picture_from_stored(const StoredForm& form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes, std::uint64_t alignment) {
    if (form.blocks) return picture_from_blocks(*form.blocks, width, height, bytes);
    check_picture_size(width, height);
    PictureFile picture = picture_from_texels(form.texels, width, height, bytes,
                                              row_bytes_of(form, width, alignment));
    if (form.alpha_unused)
        for (std::size_t i = picture.channels - 1; i < picture.values.size(); i += picture.channels)
            picture.values[i] = 65535;
    drop_opaque_alpha(picture);
    return picture;
}

PictureFile with_x_from_alpha(PictureFile picture) {
    if (picture.channels != 4) return picture;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    bool green_varies = false, alpha_varies = false;
    for (std::uint64_t i = 0; i < texels; ++i) {
        for (const std::uint32_t c : {0U, 2U})
            if (picture.at(i, c) != picture.at(0, c)) return picture;
        green_varies = green_varies || picture.at(i, 1) != picture.at(0, 1);
        alpha_varies = alpha_varies || picture.at(i, 3) != picture.at(0, 3);
    }
    // A cut-out of one colour has no green that varies.
    if (!green_varies || !alpha_varies) return picture;
    PictureFile direction = blank_picture(picture.width, picture.height, Channels::rgb);
    for (std::uint64_t i = 0; i < texels; ++i) {
        direction.values[3 * i] = picture.at(i, 3);
        direction.values[3 * i + 1] = picture.at(i, 1);
    }
    return direction;
}

void refuse_stored(std::string_view container, std::string_view way) {
    throw UnreadablePicture("it is a " + std::string(container) + " file of " + std::string(way) +
                            ", which are not read; expected BC1 to BC5, or 8, 16 or 32 bits a "
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
