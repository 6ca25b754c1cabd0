// ASTC pictures: blocks of one colour by hand (Khronos Data Format Specification 1.3, chapter 23,
// void-extent blocks), and pictures that the library packed. Random blocks of every size, against a
// graphics driver: test_render_blocks.cpp.

#include <astcenc.h>
#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <vector>

#include "model/readers/texture_planes.hpp"
#include "test_picture_reading.hpp"
#include "test_picture_support.hpp"

using namespace rakelight;
using namespace picture_test;

namespace {

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

/// A block of one colour of 16 bits a channel; bit 9 says that they are halves.
std::string one_colour(std::array<std::uint32_t, 4> colour, bool halves = false) {
    std::string block = (halves ? "\xFC\xFF" : "\xFC\xFD") + std::string(6, '\xFF');
    for (const std::uint32_t value : colour) block += little(value, 2);
    return block;
}

std::string copies(const std::string& block, std::size_t count) {
    std::string all;
    for (std::size_t k = 0; k < count; ++k) all += block;
    return all;
}

/// A Vulkan number: for each size the linear one and that of sRGB.
std::uint32_t vulkan(std::size_t size, bool is_srgb) {
    return static_cast<std::uint32_t>(157 + 2 * size + (is_srgb ? 1 : 0));
}

/// What a channel of 16 bits is as a half: 65535 is 1, others are 65536ths, cut off to 11 bits.
std::uint16_t code_of(std::uint32_t value) {
    if (value == 65535) return 65535;
    const int below = value < 2048 ? 0 : static_cast<int>(std::log2(value)) - 10;
    return static_cast<std::uint16_t>(std::lround((value >> below << below) * (65535.0 / 65536.0)));
}

using Colour = std::function<std::array<int, 4>(std::uint32_t x, std::uint32_t y)>;

/// Packed with all care by the library; bytes a channel.
std::string packed(std::uint32_t width, std::uint32_t height, std::size_t size,
                   const Colour& colour) {
    std::vector<std::uint8_t> texels;
    for (std::uint32_t y = 0; y < height; ++y)
        for (std::uint32_t x = 0; x < width; ++x)
            for (const int value : colour(x, y)) texels.push_back(static_cast<std::uint8_t>(value));
    astcenc_config config{};
    REQUIRE(astcenc_config_init(ASTCENC_PRF_LDR, sizes[size][0], sizes[size][1], 1,
                                ASTCENC_PRE_THOROUGH, 0, &config) == ASTCENC_SUCCESS);
    astcenc_context* context = nullptr;
    REQUIRE(astcenc_context_alloc(&config, 1, &context) == ASTCENC_SUCCESS);
    void* slice = texels.data();
    astcenc_image image{width, height, 1, ASTCENC_TYPE_U8, &slice};
    const std::uint32_t across = (width + sizes[size][0] - 1) / sizes[size][0];
    const std::uint32_t down = (height + sizes[size][1] - 1) / sizes[size][1];
    std::string blocks(std::size_t{16} * across * down, '\0');
    const astcenc_swizzle as_is{ASTCENC_SWZ_R, ASTCENC_SWZ_G, ASTCENC_SWZ_B, ASTCENC_SWZ_A};
    CHECK(astcenc_compress_image(context, &image, &as_is,
                                 reinterpret_cast<std::uint8_t*>(blocks.data()), blocks.size(),
                                 0) == ASTCENC_SUCCESS);
    astcenc_context_free(context);
    return blocks;
}

}  // namespace

TEST_CASE("ASTC blocks of all sizes stand side by side, and over the edge") {
    for (std::size_t size = 0; size < sizes.size(); ++size)
        for (const bool is_srgb : {false, true}) {
            CAPTURE(size);
            CAPTURE(is_srgb);
            const std::uint32_t w = sizes[size][0] + 1, h = sizes[size][1] + 1;
            std::string blocks;
            for (std::uint32_t b = 0; b < 4; ++b)
                blocks += one_colour({0x1234 * b, 0xFFFF, 0x8181, 0xFFFF});
            const PictureFile picture = read(ktx2(w, h, vulkan(size, is_srgb), blocks));
            REQUIRE(picture.width == w);
            REQUIRE(picture.height == h);
            REQUIRE(picture.channels == 3);  // opaque
            // sRGB keeps the higher 8 bits.
            const auto expected = [&](std::uint32_t value) {
                return is_srgb ? static_cast<std::uint16_t>(257 * (value >> 8)) : code_of(value);
            };
            for (std::uint32_t b = 0; b < 4; ++b) {
                const std::uint32_t x = b % 2 == 0 ? w - 2 : w - 1, y = b < 2 ? h - 2 : h - 1;
                CHECK(picture.at(y * w + x, 0) == expected(0x1234 * b));
                CHECK(picture.at(y * w + x, 1) == 65535);
                CHECK(picture.at(y * w + x, 2) == expected(0x8181));
            }
            // OpenGL's registry has 14 numbers from 0x93B0 and from 0x93D0 on.
            const auto gl = static_cast<std::uint32_t>((is_srgb ? 0x93D0 : 0x93B0) + size);
            CHECK(read(ktx1(w, h, 0, 0, gl, blocks)).values == picture.values);
        }
}

TEST_CASE("a picture that was packed in ASTC is what it was, nearly") {
    // Colours on a line, along which a block has two ends and weights. With weights of 0, 1/2 and 1
    // alone and ends that are right nobody is off by more than a quarter of the block's range; ends
    // and codes are off by 1 each. A block in another's place is off by 2 for each texel across.
    const auto plane = [](std::uint32_t x, std::uint32_t y) {
        const auto t = static_cast<int>(2 * x + 3 * y);
        return std::array<int, 4>{t, 200 - t, 40 + t, 255 - t};
    };
    for (const std::size_t size : {std::size_t{0}, std::size_t{4}, std::size_t{13}}) {
        CAPTURE(size);
        const std::string blocks = packed(37, 29, size, plane);
        const PictureFile picture = read(ktx2(37, 29, vulkan(size, false), blocks));
        REQUIRE(picture.channels == 4);
        const double range = 5.0 * (sizes[size][0] - 1), bound = range / 4.0 + 2.0;
        REQUIRE(bound < 2.0 * sizes[size][0]);
        double worst = 0.0;
        for (std::uint32_t i = 0; i < 37 * 29; ++i)
            for (std::uint32_t c = 0; c < 4; ++c)
                worst =
                    std::max(worst, std::fabs(picture.at(i, c) / 257.0 - plane(i % 37, i / 37)[c]));
        CHECK(worst < bound);
    }
}

TEST_CASE("ASTC without colour has one channel, and two with an alpha") {
    // Which as a normal map are x and y: that is how such maps are packed.
    const std::string greys = one_colour({999, 999, 999, 65535}) + one_colour({5, 5, 5, 65535});
    const PictureFile grey = read(ktx2(8, 4, 157, greys));
    REQUIRE(grey.channels == 1);
    CHECK(grey.at(3, 0) == code_of(999));
    CHECK(grey.at(4, 0) == 5);
    const PictureFile pair =
        read(ktx2(8, 4, 157, one_colour({999, 999, 999, 70}) + one_colour({5, 5, 5, 800})));
    REQUIRE(pair.channels == 2);
    CHECK(pair.at(3, 0) == code_of(999));
    CHECK(pair.at(3, 1) == code_of(70));
    CHECK(pair.at(31, 1) == code_of(800));
}

TEST_CASE("grey and alpha are a direction where they are no longer than 1") {
    const std::string slanted = one_colour({50000, 50000, 50000, 20000});
    const std::string steep = one_colour({65535, 65535, 65535, 20000});
    const auto pair = [](const std::string& blocks) {
        const PictureFile picture = read(ktx2(80, 4, 157, blocks));
        REQUIRE(picture.channels == 2);
        return looks_like_normal_pair(picture);
    };
    CHECK(pair(copies(slanted, 20)));
    CHECK_FALSE(pair(copies(slanted, 18) + copies(steep, 2)));
    // A height that is opaque but for a hole.
    const std::string height = one_colour({50000, 50000, 50000, 65535});
    CHECK_FALSE(pair(copies(height, 18) + copies(slanted, 2)));
}

TEST_CASE("ASTC blocks are refused by the kind of their ends") {
    // 4 x 4 weights of two bits, one pair of ends of one of 16 kinds, eight bits a number. Of HDR
    // are luminance of a large and a small range, RGB with a scale, RGB, and RGB with an alpha of
    // either range (OpenGL, KHR_texture_compression_astc_hdr, C.2.15).
    for (std::uint32_t kind = 0; kind < 16; ++kind) {
        CAPTURE(kind);
        const std::string block = block_of({{0x42, 11}, {0, 2}, {kind, 4}, {0x5A3C6996, 32}});
        const bool is_hdr = kind == 2 || kind == 3 || kind == 7 || kind == 11 || kind >= 14;
        for (const std::uint32_t format : {157, 158}) {
            const std::string text = refusal(ktx2(4, 4, format, block));
            INFO(text);
            CHECK((text.find("1 of its 1 ASTC blocks hold values beyond 0 to 1") == 0) == is_hdr);
            CHECK((text == "was read") == !is_hdr);
        }
    }
}

TEST_CASE("ASTC that is not of 0 to 1, not flat or not whole is refused with what it is") {
    const std::string good = one_colour({1, 2, 3, 4});
    const std::string beyond = one_colour({0x3C00, 0x3C00, 0x3C00, 0x3C00}, true);
    CHECK(says(ktx2(8, 8, 157, copies(good, 3) + beyond),
               "1 of its 4 ASTC blocks hold values beyond 0 to 1 (HDR), which are not read; save"));
    // All zeros are a reserved form of weights.
    CHECK(says(ktx2(8, 8, 158, copies(good, 2) + std::string(32, '\0')),
               "2 of its 4 ASTC blocks break the format's rules; fetch it again"));
    CHECK(says(ktx2(4, 4, 1000066000, good), "KTX 2 file of ASTC blocks beyond 0 to 1 (HDR)"));
    CHECK(says(ktx2(4, 4, 1000066013, good), "ASTC blocks beyond 0 to 1 (HDR)"));
    CHECK(says(ktx2(4, 4, 1000288000, good), "ASTC blocks of a volume"));
    CHECK(says(ktx1(4, 4, 0, 0, 0x93C0, good), "KTX file of ASTC blocks of a volume"));
    CHECK(says(ktx1(4, 4, 0, 0, 0x93E9, good), "ASTC blocks of a volume"));
    CHECK(says(ktx1(4, 4, 0, 0, 0x93BE, good), "internal format"));
    // What it promises, before memory is taken for it.
    CHECK(says(ktx2(16384, 4096, 157, good), "it promises 67108864 bytes"));
    CHECK(says(ktx2(16384, 4096, 184, good), "it promises 7474752 bytes"));
    CHECK(says(ktx2(100000, 4, 157, good), "it claims 100000 x 4 pixels"));
    CHECK(says(ktx1(9, 4, 0, 0, 0x93B0, copies(good, 2)), "it promises 48 bytes"));
    const std::string whole = ktx2(7, 7, 165, copies(good, 4));
    REQUIRE(refusal(whole) == "was read");
    for (std::size_t size = 0; size < whole.size(); ++size) {
        CAPTURE(size);
        CHECK(refusal(whole.substr(0, size)) != "was read");
    }
}
