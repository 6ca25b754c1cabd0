#include "model/pictures/picture_blocks.hpp"

#include <algorithm>
#include <cmath>

#include "model/pictures/picture_bptc.hpp"

namespace rakelight {
namespace {

using Colour = std::array<double, 4>;  // 0 to 1
using Block = std::array<std::array<std::uint16_t, 4>, 16>;

std::uint64_t bits_at(const unsigned char* bytes, int count) {
    std::uint64_t bits = 0;
    for (int k = 0; k < count; ++k) bits |= std::uint64_t{bytes[k]} << 8 * k;
    return bits;
}

std::uint16_t code(double share) {
    return static_cast<std::uint16_t>(std::lround(65535.0 * share));
}

/// 5, 6 and 5 bits, red in the highest.
Colour end_colour(std::uint64_t bits) {
    return {static_cast<double>(bits >> 11 & 31) / 31.0, static_cast<double>(bits >> 5 & 63) / 63.0,
            static_cast<double>(bits & 31) / 31.0, 1.0};
}

Colour between(const Colour& a, const Colour& b, double share) {
    Colour mix{};
    for (std::size_t c = 0; c < 4; ++c) mix[c] = (1.0 - share) * a[c] + share * b[c];
    return mix;
}

/// @param may_cut  a first end that is not above the second means three colours and a hole: in BC1
///                 alone
void put_colours(const unsigned char* bytes, bool may_cut, Block& block) {
    const std::uint64_t first = bits_at(bytes, 2), second = bits_at(bytes + 2, 2);
    const Colour a = end_colour(first), b = end_colour(second);
    std::array<Colour, 4> palette{a, b, between(a, b, 1.0 / 3), between(a, b, 2.0 / 3)};
    if (may_cut && first <= second) {
        palette[2] = between(a, b, 0.5);
        palette[3] = {0, 0, 0, 0};
    }
    const std::uint64_t picks = bits_at(bytes + 4, 4);
    for (std::size_t i = 0; i < 16; ++i)
        for (std::size_t c = 0; c < 4; ++c) block[i][c] = code(palette[picks >> 2 * i & 3][c]);
}

/// One channel of BC4, BC5 or BC3's alpha: two ends, and three bits a texel.
void put_channel(const unsigned char* bytes, bool is_signed, std::size_t channel, Block& block) {
    const auto end = [&](unsigned char byte) {
        return is_signed ? std::max(-1.0, static_cast<std::int8_t>(byte) / 127.0) : byte / 255.0;
    };
    // As they are stored: signed numbers compare as such.
    const bool eight = is_signed
                           ? static_cast<std::int8_t>(bytes[0]) > static_cast<std::int8_t>(bytes[1])
                           : bytes[0] > bytes[1];
    const double a = end(bytes[0]), b = end(bytes[1]);
    std::array<double, 8> palette{a, b};
    const int steps = eight ? 7 : 5;
    for (int k = 1; k < steps; ++k)
        palette[static_cast<std::size_t>(k + 1)] = ((steps - k) * a + k * b) / steps;
    if (!eight) {
        palette[6] = is_signed ? -1.0 : 0.0;
        palette[7] = 1.0;
    }
    const std::uint64_t picks = bits_at(bytes + 2, 6);
    for (std::size_t i = 0; i < 16; ++i) {
        const double v = palette[picks >> 3 * i & 7];
        block[i][channel] = code(is_signed ? 0.5 * (v + 1.0) : v);
    }
}

void put_alpha_of_bc2(const unsigned char* bytes, Block& block) {
    const std::uint64_t bits = bits_at(bytes, 8);
    for (std::size_t i = 0; i < 16; ++i)
        block[i][3] = static_cast<std::uint16_t>(4369 * (bits >> 4 * i & 15));  // 65535 / 15
}

void put_bytes(const Bc7Texels& texels, Block& block) {
    for (std::size_t i = 0; i < 16; ++i)
        for (std::size_t c = 0; c < 4; ++c)
            block[i][c] = static_cast<std::uint16_t>(257 * texels[i][c]);
}

/// Of all forms but BC6H.
Block block_of(BlockForm form, const unsigned char* bytes) {
    Block block{};
    switch (form) {
        case BlockForm::bc1:
            put_colours(bytes, true, block);
            break;
        case BlockForm::bc2:
            put_colours(bytes + 8, false, block);
            put_alpha_of_bc2(bytes, block);
            break;
        case BlockForm::bc3:
            put_colours(bytes + 8, false, block);
            put_channel(bytes, false, 3, block);
            break;
        case BlockForm::bc4:
        case BlockForm::bc4_signed:
            put_channel(bytes, form == BlockForm::bc4_signed, 0, block);
            break;
        case BlockForm::bc5:
        case BlockForm::bc5_signed:
            put_channel(bytes, form == BlockForm::bc5_signed, 0, block);
            put_channel(bytes + 8, form == BlockForm::bc5_signed, 1, block);
            break;
        default:
            put_bytes(bc7_texels(bytes), block);
            break;
    }
    return block;
}

Channels channels_of(BlockForm form) {
    if (form == BlockForm::bc4 || form == BlockForm::bc4_signed) return Channels::grey;
    if (form == BlockForm::bc5 || form == BlockForm::bc5_signed) return Channels::red_green;
    return Channels::rgba;
}

/// Calls put(texel of the picture, texel of the block, block) for what is in the picture.
template <class Decode, class Put>
void for_texels(std::uint64_t width, std::uint64_t height, std::uint64_t block_bytes,
                PictureBytes bytes, const Decode& decode, const Put& put) {
    const std::uint64_t across = (width + 3) / 4, down = (height + 3) / 4;
    for (std::uint64_t j = 0; j < down; ++j)
        for (std::uint64_t i = 0; i < across; ++i) {
            const auto block = decode(bytes.data() + (j * across + i) * block_bytes);
            // The last blocks may stand over the edge.
            for (std::uint64_t y = 4 * j; y < std::min(height, 4 * j + 4); ++y)
                for (std::uint64_t x = 4 * i; x < std::min(width, 4 * i + 4); ++x)
                    put(y * width + x, 4 * (y % 4) + x % 4, block);
        }
}

PictureFile picture_from_halves(bool is_signed, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes) {
    FloatTexels texels{
        static_cast<std::uint32_t>(width), static_cast<std::uint32_t>(height), Channels::rgb, {}};
    texels.values.resize(3 * width * height);
    const auto decode = [&](const unsigned char* at) { return bc6h_texels(at, is_signed); };
    for_texels(width, height, 16, bytes, decode,
               [&](std::uint64_t to, std::uint64_t from, const Bc6hTexels& block) {
                   for (std::size_t c = 0; c < 3; ++c)
                       texels.values[3 * to + c] = float_from_half(block[from][c]);
               });
    return picture_from_floats(texels);
}

}  // namespace

std::uint32_t bytes_of(BlockForm form) {
    const bool is_small =
        form == BlockForm::bc1 || form == BlockForm::bc4 || form == BlockForm::bc4_signed;
    return is_small ? 8 : 16;
}

PictureFile picture_from_blocks(BlockForm form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes) {
    check_picture_size(width, height);
    const std::uint64_t across = (width + 3) / 4, down = (height + 3) / 4;
    bytes = part_of(bytes, 0, across * down * bytes_of(form));
    if (form == BlockForm::bc6h || form == BlockForm::bc6h_signed)
        return picture_from_halves(form == BlockForm::bc6h_signed, width, height, bytes);
    PictureFile picture = blank_picture(width, height, channels_of(form));
    const std::uint32_t count = picture.channels;
    const auto decode = [&](const unsigned char* at) { return block_of(form, at); };
    for_texels(width, height, bytes_of(form), bytes, decode,
               [&](std::uint64_t to, std::uint64_t from, const Block& block) {
                   std::copy_n(block[from].begin(), count,
                               picture.values.begin() + static_cast<std::ptrdiff_t>(to * count));
               });
    drop_opaque_alpha(picture);
    return picture;
}

}  // namespace rakelight
