#include "model/pictures/picture_astc.hpp"

#include <astcenc.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace rakelight {
namespace {

constexpr std::uint64_t block_bytes = 16;

void check(astcenc_error answer) {
    if (answer == ASTCENC_SUCCESS) return;
    if (answer == ASTCENC_ERR_OUT_OF_MEM) throw std::bad_alloc();
    throw UnreadablePicture("the ASTC library refuses it (" +
                            std::string(astcenc_get_error_string(answer)) +
                            "); save it as PNG or TIFF");
}

using Context = std::unique_ptr<astcenc_context, void (*)(astcenc_context*)>;

/// For one thread: then the library starts none and none has to be told its part.
Context context_of(const AstcForm& form) {
    astcenc_config config{};
    check(astcenc_config_init(form.is_srgb ? ASTCENC_PRF_LDR_SRGB : ASTCENC_PRF_LDR, form.across,
                              form.down, 1, ASTCENC_PRE_MEDIUM, ASTCENC_FLG_DECOMPRESS_ONLY,
                              &config));
    astcenc_context* made = nullptr;
    check(astcenc_context_alloc(&config, 1, &made));
    return {made, astcenc_context_free};
}

/// Blocks of one colour say by themselves what it is of: bits 0 to 8 are 0x1FC, bit 9 means halves.
bool is_one_colour_of_halves(const unsigned char* block) {
    return block[0] == 0xFC && (block[1] & 3U) == 3;
}

/// Whether a texel is between ends that go beyond 1: those of the kinds 2, 3, 7, 11, 14 and 15.
bool has_ends_beyond_one(const astcenc_block_info& info) {
    constexpr unsigned kinds = 0xC88C;
    if (info.is_error_block || info.is_constant_block) return false;
    for (unsigned i = 0; i < info.texel_count; ++i)
        if ((kinds >> info.color_endpoint_modes[info.partition_assignment[i]] & 1U) != 0)
            return true;
    return false;
}

void check_blocks(astcenc_context* context, PictureBytes bytes) {
    std::uint64_t beyond = 0, broken = 0;
    for (std::uint64_t at = 0; at < bytes.size(); at += block_bytes) {
        astcenc_block_info info{};
        check(astcenc_get_block_info(context, bytes.data() + at, &info));
        const bool is_beyond =
            is_one_colour_of_halves(bytes.data() + at) || has_ends_beyond_one(info);
        beyond += is_beyond;
        broken += !is_beyond && info.is_error_block;
    }
    const std::string all =
        " of its " + std::to_string(bytes.size() / block_bytes) + " ASTC blocks ";
    if (broken > 0)
        throw UnreadablePicture(std::to_string(broken) + all +
                                "break the format's rules; fetch it again");
    if (beyond > 0)
        throw UnreadablePicture(std::to_string(beyond) + all +
                                "hold values beyond 0 to 1 (HDR), which are not read; save it as "
                                "OpenEXR or BC6H, or without them");
}

constexpr std::uint16_t half_of_one = 0x3C00;

/// For each half from 0 to 1 its code.
std::vector<std::uint16_t> codes_of_halves(const AstcForm& form) {
    std::vector<std::uint16_t> codes(half_of_one + 1);
    for (std::uint32_t half = 0; half <= half_of_one; ++half) {
        const double v = float_from_half(half);
        codes[half] = static_cast<std::uint16_t>(form.is_srgb ? 257 * std::lround(255.0 * v)
                                                              : std::lround(65535.0 * v));
    }
    return codes;
}

/// Makes one channel of red, green and blue that are the same.
void join_equal_colours(PictureFile& picture) {
    if (picture.channels < 3) return;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    for (std::uint64_t i = 0; i < texels; ++i)
        if (picture.at(i, 0) != picture.at(i, 1) || picture.at(i, 1) != picture.at(i, 2)) return;
    const std::uint32_t from = picture.channels, to = from - 2;
    for (std::uint64_t i = 0; i < texels; ++i) {
        picture.values[i * to] = picture.values[i * from];
        if (to == 2) picture.values[i * to + 1] = picture.values[i * from + 3];
    }
    picture.values.resize(texels * to);
    picture.channels = to;
}

}  // namespace

std::optional<AstcForm> astc_form(std::uint32_t size, bool is_srgb) {
    constexpr std::array<std::array<std::uint32_t, 2>, 14> sizes{{{4, 4},
                                                                  {5, 4},
                                                                  {5, 5},
                                                                  {6, 5},
                                                                  {6, 6},
                                                                  {8, 5},
                                                                  {8, 6},
                                                                  {8, 8},
                                                                  {10, 5},
                                                                  {10, 6},
                                                                  {10, 8},
                                                                  {10, 10},
                                                                  {12, 10},
                                                                  {12, 12}}};
    if (size >= sizes.size()) return {};
    return AstcForm{sizes[size][0], sizes[size][1], is_srgb};
}

PictureFile picture_from_astc(const AstcForm& form, std::uint64_t width, std::uint64_t height,
                              PictureBytes bytes) {
    check_picture_size(width, height);
    const std::uint64_t across = (width + form.across - 1) / form.across;
    const std::uint64_t down = (height + form.down - 1) / form.down;
    const std::uint64_t row_bytes = across * block_bytes;
    bytes = part_of(bytes, 0, down * row_bytes);
    const Context context = context_of(form);
    check_blocks(context.get(), bytes);
    PictureFile picture = blank_picture(width, height, Channels::rgba);
    const std::vector<std::uint16_t> codes = codes_of_halves(form);
    std::vector<std::uint16_t> halves(4 * width * form.down);
    constexpr astcenc_swizzle as_is{ASTCENC_SWZ_R, ASTCENC_SWZ_G, ASTCENC_SWZ_B, ASTCENC_SWZ_A};
    // One row of blocks at a time, so that the halves take little memory.
    for (std::uint64_t j = 0; j < down; ++j) {
        const std::uint64_t first = j * form.down,
                            rows = std::min<std::uint64_t>(form.down, height - first);
        void* slice = halves.data();
        astcenc_image image{static_cast<unsigned>(width), static_cast<unsigned>(rows), 1,
                            ASTCENC_TYPE_F16, &slice};
        check(astcenc_decompress_image(context.get(), bytes.data() + j * row_bytes, row_bytes,
                                       &image, &as_is, 0));
        for (std::uint64_t k = 0; k < 4 * width * rows; ++k)
            picture.values[4 * width * first + k] = codes[std::min(halves[k], half_of_one)];
    }
    drop_opaque_alpha(picture);
    join_equal_colours(picture);
    return picture;
}

}  // namespace rakelight
