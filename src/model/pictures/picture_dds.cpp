// DirectDraw surfaces, by Microsoft's "Programming Guide for DDS", "DDS_HEADER", "DDS_PIXELFORMAT",
// "DDS_HEADER_DXT10" and its list of DXGI_FORMAT.

#include <algorithm>
#include <bit>

#include "model/pictures/picture_stored.hpp"

namespace rakelight {
namespace {

constexpr std::uint32_t four(const char (&text)[5]) {
    std::uint32_t code = 0;
    for (int k = 0; k < 4; ++k) code |= std::uint32_t{static_cast<unsigned char>(text[k])} << 8 * k;
    return code;
}

struct Header {
    std::uint32_t width, height, depth;
    std::uint32_t flags, code, bits;     // of the pixel format
    std::array<std::uint32_t, 4> masks;  // red, green, blue, alpha
    std::uint32_t more_caps;
};

constexpr std::uint32_t has_code = 4, has_alpha_bits = 1, is_alpha = 2, is_rgb = 0x40,
                        is_luminance = 0x20000, is_cube = 0x200, is_volume = 0x200000;

Header header_of(PictureBytes bytes) {
    const auto at = [&](std::uint64_t offset) { return number_at(bytes, offset); };
    part_of(bytes, 0, 128);
    if (at(4) != 124 || at(76) != 32)
        throw UnreadablePicture("its DDS header says it has " + std::to_string(at(4)) + " and " +
                                std::to_string(at(76)) +
                                " bytes; expected 124 and 32; save it "
                                "again");
    return {at(16), at(12), at(24), at(80), at(84), at(88), {at(92), at(96), at(100), at(104)},
            at(112)};
}

StoredForm form_of_dxgi(std::uint32_t number) {
    using enum Sample;
    using enum Channels;
    switch (number) {
        case 2:
            return stored(single_float, rgba);
        case 6:
            return stored(single_float, rgb);
        case 10:
            return stored(half_float, rgba);
        case 11:
            return stored(unorm16, rgba);
        case 13:
            return stored(snorm16, rgba);
        case 16:
            return stored(single_float, red_green);
        case 28:
        case 29:
            return stored(unorm8, rgba);
        case 31:
            return stored(snorm8, rgba);
        case 34:
            return stored(half_float, red_green);
        case 35:
            return stored(unorm16, red_green);
        case 37:
            return stored(snorm16, red_green);
        case 41:
            return stored(single_float, grey);
        case 49:
            return stored(unorm8, red_green);
        case 51:
            return stored(snorm8, red_green);
        case 54:
            return stored(half_float, grey);
        case 56:
            return stored(unorm16, grey);
        case 58:
            return stored(snorm16, grey);
        case 61:
        case 65:
            return stored(unorm8, grey);
        case 63:
            return stored(snorm8, grey);
        case 70:
        case 71:
        case 72:
            return stored(BlockForm::bc1);
        case 73:
        case 74:
        case 75:
            return stored(BlockForm::bc2);
        case 76:
        case 77:
        case 78:
            return stored(BlockForm::bc3);
        case 79:
        case 80:
            return stored(BlockForm::bc4);
        case 81:
            return stored(BlockForm::bc4_signed);
        case 82:
        case 83:
            return stored(BlockForm::bc5);
        case 84:
            return stored(BlockForm::bc5_signed);
        case 87:
        case 91:
            return stored(unorm8, rgba, true);
        case 88:
        case 93: {
            StoredForm form = stored(unorm8, rgba, true);
            form.alpha_unused = true;
            return form;
        }
        case 94:
        case 95:
            return stored(BlockForm::bc6h);
        case 96:
            return stored(BlockForm::bc6h_signed);
        case 97:
        case 98:
        case 99:
            return stored(BlockForm::bc7);
        default:
            refuse_stored("DDS", "DXGI format " + std::to_string(number));
    }
}

/// Codes of four letters, and numbers of Direct3D 9 in their place.
StoredForm form_of_code(std::uint32_t code) {
    using enum Sample;
    using enum Channels;
    switch (code) {
        case four("DXT1"):
            return stored(BlockForm::bc1);
        case four("DXT2"):
        case four("DXT3"):
            return stored(BlockForm::bc2);
        case four("DXT4"):
        case four("DXT5"):
        case four("RXGB"):
            return stored(BlockForm::bc3);
        case four("ATI1"):
        case four("BC4U"):
            return stored(BlockForm::bc4);
        case four("BC4S"):
            return stored(BlockForm::bc4_signed);
        case four("ATI2"):
        case four("BC5U"):
            return stored(BlockForm::bc5);
        case four("BC5S"):
            return stored(BlockForm::bc5_signed);
        case 36:
            return stored(unorm16, rgba);
        case 110:
            return stored(snorm16, rgba);
        case 111:
            return stored(half_float, grey);
        case 112:
            return stored(half_float, red_green);
        case 113:
            return stored(half_float, rgba);
        case 114:
            return stored(single_float, grey);
        case 115:
            return stored(single_float, red_green);
        case 116:
            return stored(single_float, rgba);
        default:
            break;
    }
    std::string name;
    for (int k = 0; k < 4; ++k) {
        const char c = static_cast<char>(code >> 8 * k & 255);
        name += c > 0x20 && c < 0x7F ? c : '?';
    }
    refuse_stored("DDS", "texels \"" + name + "\"");
}

/// A field of a texel that is one whole number, as a code.
std::uint16_t field(std::uint32_t texel, std::uint32_t mask) {
    const int shift = std::countr_zero(mask);
    const std::uint64_t most = mask >> shift;
    return static_cast<std::uint16_t>(
        (((texel & mask) >> shift) * std::uint64_t{65535} + most / 2) / most);
}

/// Texels of up to 32 bits whose fields the header's masks say.
PictureFile masked_picture(const Header& header, PictureBytes texels) {
    check_picture_size(header.width, header.height);
    std::array<std::uint32_t, 4> masks = header.masks;
    const std::uint32_t size = header.bits / 8;
    const bool is_known = (header.flags & (is_rgb | is_luminance | is_alpha)) != 0;
    if (!is_known || header.bits % 8 != 0 || size < 1 || size > 4)
        refuse_stored("DDS", "texels of " + std::to_string(header.bits) + " bits");
    if ((header.flags & is_luminance) != 0) masks[1] = masks[2] = 0;
    if ((header.flags & (has_alpha_bits | is_alpha)) == 0) masks[3] = 0;
    if ((header.flags & is_alpha) != 0) masks = {masks[3], 0, 0, 0};
    if (masks[0] == 0) refuse_stored("DDS", "texels without a mask of red");
    Channels channels = masks[3] != 0 ? Channels::grey_alpha : Channels::grey;
    if (masks[2] != 0)
        channels = masks[3] != 0 ? Channels::rgba : Channels::rgb;
    else if (masks[1] != 0)
        channels = Channels::red_green;
    texels = part_of(texels, 0, std::uint64_t{header.width} * header.height * size);
    PictureFile picture = blank_picture(header.width, header.height, channels);
    const std::uint64_t count = std::uint64_t{header.width} * header.height;
    for (std::uint64_t i = 0; i < count; ++i) {
        std::uint32_t texel = 0;
        for (std::uint32_t k = 0; k < size; ++k)
            texel |= std::uint32_t{texels[i * size + k]} << 8 * k;
        std::uint32_t to = 0;
        for (const std::uint32_t mask : masks)
            if (mask != 0 && to < picture.channels)
                picture.values[i * picture.channels + to++] = field(texel, mask);
    }
    drop_opaque_alpha(picture);
    return picture;
}

/// "RXGB": BC3 whose alpha is the red of a picture without alpha.
PictureFile with_red_from_alpha(const PictureFile& picture) {
    if (picture.channels != 4) return picture;
    PictureFile three = blank_picture(picture.width, picture.height, Channels::rgb);
    for (std::size_t i = 0; 4 * i < picture.values.size(); ++i) {
        three.values[3 * i] = picture.at(i, 3);
        three.values[3 * i + 1] = picture.at(i, 1);
        three.values[3 * i + 2] = picture.at(i, 2);
    }
    return three;
}

}  // namespace

PictureFile read_dds_picture(PictureBytes bytes) {
    const Header header = header_of(bytes);
    check_picture_size(header.width, header.height);
    const bool has_more = (header.flags & has_code) != 0 && header.code == four("DX10");
    const auto more = [&](std::uint64_t k) { return has_more ? number_at(bytes, 128 + 4 * k) : 0; };
    const bool faces = (header.more_caps & is_cube) != 0 || (more(2) & 4) != 0;
    const bool volume = (header.more_caps & is_volume) != 0 || more(1) == 4;
    check_one_layer("DDS", volume ? std::max(2U, header.depth) : 1, more(3), faces ? 6 : 1);
    const PictureBytes texels = part_of(bytes, has_more ? 148 : 128, 0);
    const PictureBytes rest = bytes.subspan(static_cast<std::size_t>(texels.data() - bytes.data()));
    if ((header.flags & has_code) == 0) return masked_picture(header, rest);
    const StoredForm form = has_more ? form_of_dxgi(more(0)) : form_of_code(header.code);
    PictureFile picture = picture_from_stored(form, header.width, header.height, rest, 1);
    const bool multiplied =
        header.code == four("DXT2") || header.code == four("DXT4") || (more(4) & 7) == 2;
    if (multiplied) divide_by_alpha(picture);
    if (!has_more && header.code == four("RXGB")) return with_red_from_alpha(picture);
    return with_x_from_alpha(form, std::move(picture));
}

}  // namespace rakelight
