// Blocks of texels against the graphics driver's own unpacking of the same bytes, which OpenGL
// wants to be exact (ARB_texture_compression_bptc, issue 7). Skipped, with a message, where no
// graphics context can be opened, or one without these formats.

#include <doctest/doctest.h>
#include <glad/gl.h>

#include <cstring>
#include <random>
#include <vector>

#include "model/pictures/picture_astc.hpp"
#include "model/pictures/picture_bptc.hpp"
#include "model/pictures/picture_texels.hpp"
#include "render/gl_objects.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

constexpr std::size_t across = 128, down = 128, blocks = across * down;
using Bytes = std::vector<unsigned char>;

/// Random blocks whose modes follow each other. Every third has few bits, every third most of them,
/// so that ends of 0 and of all ones are there too.
template <class SetMode>
Bytes random_blocks(unsigned seed, const SetMode& set_mode) {
    std::mt19937 random(seed);
    Bytes bytes(16 * blocks);
    for (std::size_t b = 0; b < blocks; ++b) {
        unsigned char* block = bytes.data() + 16 * b;
        for (std::size_t k = 0; k < 16; k += 4) {
            auto word = static_cast<std::uint32_t>(random());
            for (int n = 0; n < 2 && b % 3 != 0; ++n)
                word = b % 3 == 1 ? word & static_cast<std::uint32_t>(random())
                                  : word | static_cast<std::uint32_t>(random());
            std::memcpy(block + k, &word, 4);
        }
        set_mode(b / 3, block);
    }
    return bytes;
}

/// BC7: as many zeros as the mode's number below a one, and all zeros, which is reserved.
void set_bc7_mode(std::size_t turn, unsigned char* block) {
    const auto mode = static_cast<unsigned>(turn % 9);
    block[0] = static_cast<unsigned char>(block[0] >> mode << mode | 1U << mode);
}

/// BC6H: the lowest five bits, of which some modes take two.
void set_bc6h_mode(std::size_t turn, unsigned char* block) {
    block[0] = static_cast<unsigned char>((block[0] & 0xE0U) | turn % 32);
}

/// ASTC: random bits, and one colour in every 50th block, nowhere else, for not all drivers look at
/// its reserved bits (KHR_texture_compression_astc_hdr, C.2.23).
Bytes random_astc_blocks(unsigned seed) {
    std::mt19937 random(seed);
    Bytes bytes(2 * 16 * blocks);
    for (unsigned char& byte : bytes) byte = static_cast<unsigned char>(random());
    constexpr std::array<unsigned char, 8> one_colour{0xFC, 0xFD, 255, 255, 255, 255, 255, 255};
    for (std::size_t at = 0; at < bytes.size(); at += 16) {
        if (at / 16 % 50 == 0)
            std::copy(one_colour.begin(), one_colour.end(),
                      bytes.begin() + static_cast<std::ptrdiff_t>(at));
        else if (bytes[at] == 0xFC)
            bytes[at] = 0xFB;
    }
    return bytes;
}

/// What the driver unpacks, row by row, as many numbers a texel as `format` says; empty when it
/// does not know the format.
template <class Number>
std::vector<Number> unpacked_by_driver(GLenum blocks_format, std::size_t width, std::size_t height,
                                       const Bytes& bytes, GLenum format, GLenum type,
                                       std::size_t channels) {
    while (glGetError() != GL_NO_ERROR) {
    }
    const GlObject<TextureTraits> texture;
    glBindTexture(GL_TEXTURE_2D, texture.name());
    glCompressedTexImage2D(GL_TEXTURE_2D, 0, blocks_format, static_cast<GLsizei>(width),
                           static_cast<GLsizei>(height), 0, static_cast<GLsizei>(bytes.size()),
                           bytes.data());
    std::vector<Number> numbers(width * height * channels);
    glPixelStorei(GL_PACK_ALIGNMENT, 1);
    glGetTexImage(GL_TEXTURE_2D, 0, format, type, numbers.data());
    if (glGetError() == GL_NO_ERROR) return numbers;
    MESSAGE("skipped: this driver does not unpack OpenGL's format " << blocks_format);
    return {};
}

std::size_t texel_of(std::size_t block, std::size_t i) {
    return (block / across * 4 + i / 4) * 4 * across + block % across * 4 + i % 4;
}

/// Whether a texel has what OpenGL's format gives for blocks that break a rule, and for pairs of
/// ends beyond 1: opaque magenta (KHR_texture_compression_astc_hdr, C.2.19 and C.2.24).
bool has_error_colour(const std::vector<std::uint8_t>& texels, std::size_t width, std::size_t x,
                      std::size_t y, const AstcForm& form) {
    constexpr std::array<std::uint8_t, 4> magenta{255, 0, 255, 255};
    for (std::size_t j = y; j < y + form.down; ++j)
        for (std::size_t i = x; i < x + form.across; ++i)
            if (std::memcmp(texels.data() + 4 * (j * width + i), magenta.data(), 4) == 0)
                return true;
    return false;
}

}  // namespace

TEST_CASE("BC7 blocks of every mode are what the driver makes of them") {
    const auto context = context_or_skip(false);
    if (!context) return;
    const Bytes bytes = random_blocks(7, set_bc7_mode);
    const auto theirs = unpacked_by_driver<std::uint8_t>(
        GL_COMPRESSED_RGBA_BPTC_UNORM, 4 * across, 4 * down, bytes, GL_RGBA, GL_UNSIGNED_BYTE, 4);
    std::array<std::size_t, 9> differ{}, seen{};
    for (std::size_t b = 0; b < blocks && !theirs.empty(); ++b) {
        const Bc7Texels ours = bc7_texels(bytes.data() + 16 * b);
        for (std::size_t i = 0; i < 16; ++i)
            for (std::size_t c = 0; c < 4; ++c)
                differ[b / 3 % 9] += ours[i][c] != theirs[4 * texel_of(b, i) + c];
        ++seen[b / 3 % 9];
    }
    for (std::size_t mode = 0; mode < 9 && !theirs.empty(); ++mode) {
        CAPTURE(mode);
        CHECK(seen[mode] > 1800);
        CHECK(differ[mode] == 0);
    }
}

TEST_CASE("BC6H blocks of every mode are what the driver makes of them") {
    const auto context = context_or_skip(false);
    if (!context) return;
    const Bytes bytes = random_blocks(6, set_bc6h_mode);
    for (const bool is_signed : {false, true}) {
        CAPTURE(is_signed);
        const auto theirs = unpacked_by_driver<float>(
            is_signed ? GL_COMPRESSED_RGB_BPTC_SIGNED_FLOAT : GL_COMPRESSED_RGB_BPTC_UNSIGNED_FLOAT,
            4 * across, 4 * down, bytes, GL_RGB, GL_FLOAT, 3);
        std::array<std::size_t, 32> differ{}, seen{};
        for (std::size_t b = 0; b < blocks && !theirs.empty(); ++b) {
            const Bc6hTexels ours = bc6h_texels(bytes.data() + 16 * b, is_signed);
            for (std::size_t i = 0; i < 16; ++i)
                for (std::size_t c = 0; c < 3; ++c)
                    differ[b / 3 % 32] +=
                        float_from_half(ours[i][c]) != theirs[3 * texel_of(b, i) + c];
            ++seen[b / 3 % 32];
        }
        for (std::size_t mode = 0; mode < 32 && !theirs.empty(); ++mode) {
            CAPTURE(mode);
            CHECK(seen[mode] > 500);
            CHECK(differ[mode] == 0);
        }
    }
}

TEST_CASE("ASTC blocks of every size are what the driver makes of them") {
    const auto context = context_or_skip(false);
    if (!context) return;
    constexpr GLenum first_linear = 0x93B0,
                     first_srgb = 0x93D0;  // KHR_texture_compression_astc_hdr
    for (std::uint32_t size = 0; size < 14; ++size)
        for (const bool is_srgb : {false, true}) {
            CAPTURE(size);
            CAPTURE(is_srgb);
            const AstcForm form = *astc_form(size, is_srgb);
            const std::size_t width = across * form.across;
            const auto theirs_of = [&](const Bytes& bytes) {
                return unpacked_by_driver<std::uint8_t>(
                    (is_srgb ? first_srgb : first_linear) + size, width,
                    bytes.size() / 16 / across * form.down, bytes, GL_RGBA, GL_UNSIGNED_BYTE, 4);
            };
            // Most random blocks break a rule, or hold values beyond 1: those are told by the
            // driver, and those that are none must all be read.
            const Bytes random = random_astc_blocks(20 + size);
            const auto all = theirs_of(random);
            if (all.empty()) return;
            Bytes good, bad;
            for (std::size_t b = 0; b < random.size() / 16; ++b) {
                const bool is_bad = has_error_colour(all, width, b % across * form.across,
                                                     b / across * form.down, form);
                Bytes& to = is_bad ? bad : good;
                to.insert(to.end(), random.begin() + static_cast<std::ptrdiff_t>(16 * b),
                          random.begin() + static_cast<std::ptrdiff_t>(16 * b + 16));
            }
            good.resize(good.size() / (16 * across) * 16 * across);
            REQUIRE(good.size() >= 16 * 1024);
            const auto theirs = theirs_of(good);
            const std::size_t height = good.size() / 16 / across * form.down;
            const PictureFile ours = picture_from_astc(form, width, height, good);
            REQUIRE(ours.channels == 4);
            // The driver's bytes are the highest 8 bits of 16 in either case (the extension's
            // C.2.19), ours those of sRGB, or the highest 11 that are not 0 as a half keeps them.
            std::size_t differ = 0;
            for (std::size_t i = 0; i < theirs.size(); ++i) {
                const double share = (ours.values[i] + 0.5) / 65535.0;
                const int highest = std::min(255, static_cast<int>(256.0 * share));
                differ += is_srgb ? ours.values[i] != 257 * theirs[i] : highest != theirs[i];
            }
            CHECK(differ == 0);
            for (std::size_t b = 0; b < 4; ++b) {
                const Bytes one(bad.begin() + static_cast<std::ptrdiff_t>(16 * b),
                                bad.begin() + static_cast<std::ptrdiff_t>(16 * b + 16));
                CHECK_THROWS_AS(picture_from_astc(form, form.across, form.down, one),
                                UnreadablePicture);
            }
        }
}
