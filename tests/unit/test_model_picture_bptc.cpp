// BC7 and BC6H pictures, written by hand from OpenGL's ARB_texture_compression_bptc (which the
// Khronos Data Format Specification 1.3, chapter 20, repeats). Every mode, against a graphics
// driver: test_render_blocks.cpp.

#include <doctest/doctest.h>

#include <cmath>

#include "model/pictures/picture_bptc_parts.hpp"
#include "model/pictures/picture_texels.hpp"
#include "test_picture_reading.hpp"
#include "test_picture_support.hpp"

using namespace rakelight;
using namespace picture_test;
using namespace std::string_literals;

namespace {

// Steps of four bits, in parts of 64 (the extension's appendix).
constexpr std::array<int, 16> weights{0, 4, 9, 13, 17, 21, 26, 30, 34, 38, 43, 47, 51, 55, 60, 64};

/// The k-th texel has the k-th step; the first one's index is a bit shorter.
void add_all_steps(Fields& fields) {
    for (std::uint32_t k = 0; k < 16; ++k) fields.push_back({k, k == 0 ? 3 : 4});
}

/// BC7, mode 6: ends of 7 bits and a lowest bit that all four channels of an end share.
std::string bc7_ramp(std::array<std::uint32_t, 4> first, std::array<std::uint32_t, 4> last,
                     std::uint32_t first_low, std::uint32_t last_low) {
    Fields fields{{1 << 6, 7}};
    for (std::size_t c = 0; c < 4; ++c) {
        fields.push_back({first[c], 7});
        fields.push_back({last[c], 7});
    }
    fields.push_back({first_low, 1});
    fields.push_back({last_low, 1});
    add_all_steps(fields);
    return block_of(fields);
}

/// BC6H, mode 3: whole ends of 10 bits.
std::string bc6h_ramp(std::array<std::uint32_t, 3> first, std::array<std::uint32_t, 3> last) {
    Fields fields{{3, 5}};
    for (const auto& end : {first, last})
        for (const std::uint32_t value : end) fields.push_back({value & 1023U, 10});
    add_all_steps(fields);
    return block_of(fields);
}

std::string dx10(std::uint32_t dxgi, const std::string& blocks, std::uint32_t w = 4,
                 std::uint32_t h = 4) {
    return dds(w, h, {.code = "DX10", .dxgi = dxgi}, blocks);
}

std::uint16_t code_of(double share) {
    return static_cast<std::uint16_t>(std::lround(65535.0 * share));
}

}  // namespace

TEST_CASE("BC7 has sixteen steps between two ends of eight bits") {
    const std::string ramp = bc7_ramp({0, 127, 5, 127}, {127, 0, 5, 127}, 1, 1);
    const PictureFile opaque = read(dx10(98, ramp));
    REQUIRE(opaque.channels == 3);
    for (std::uint32_t k = 0; k < 16; ++k) {
        // From 1 to 255, and from 255 to 1, rounded half up.
        CHECK(opaque.at(k, 0) == 257 * ((64 * 1 + weights[k] * 254 + 32) / 64));
        CHECK(opaque.at(k, 1) == 257 * ((64 * 255 - weights[k] * 254 + 32) / 64));
        CHECK(opaque.at(k, 2) == 257 * 11);
    }
    const PictureFile clear = read(dx10(98, bc7_ramp({0, 0, 0, 0}, {0, 0, 0, 127}, 0, 1)));
    REQUIRE(clear.channels == 4);
    CHECK(clear.at(0, 3) == 0);
    CHECK(clear.at(15, 3) == 65535);
    CHECK(clear.at(15, 0) == 257);
    // The reserved mode is 0 all over.
    const PictureFile reserved = read(dx10(98, std::string(16, '\0')));
    REQUIRE(reserved.channels == 4);
    CHECK(reserved.values == Codes(64, 0));
}

TEST_CASE("BC6H has halves, taken as those of other pictures are") {
    // 10 bits spread over 16 and scaled by 31/64 are the bits of a half: 495 is 1.0 exactly.
    const auto bits_of = [](int end, int weight) {
        const int first = 0, last = ((end << 15) + 0x4000) >> 9;
        return ((64 - weight) * first + weight * last + 32) / 64 * 31 / 64;
    };
    REQUIRE(bits_of(495, 64) == 0x3C00);
    const PictureFile ramp = read(dx10(95, bc6h_ramp({0, 0, 495}, {495, 300, 495})));
    REQUIRE(ramp.channels == 3);
    CHECK(ramp.note.empty());
    for (std::uint32_t k = 0; k < 16; ++k) {
        const auto half = [&](int end) {
            return float_from_half(static_cast<std::uint32_t>(bits_of(end, weights[k])));
        };
        CHECK(ramp.at(k, 0) == code_of(half(495)));
        CHECK(ramp.at(k, 1) == code_of(half(300)));
        CHECK(ramp.at(k, 2) == 65535);
    }
    // The largest half is 65504 (IEEE 754); beyond 1 the range is spread, with a note.
    const PictureFile bright = read(dx10(95, bc6h_ramp({0, 0, 0}, {1023, 1023, 1023})));
    CHECK(bright.note.find("from 0 to 65504") != std::string::npos);
    CHECK(bright.at(15, 0) == 65535);
    // With a sign: 247 of 511 is 15840, of which 31/32 are the bits of 2033/2048.
    const PictureFile both = read(dx10(96, bc6h_ramp({-247U, 0, 0}, {247U, 0, 0})));
    CHECK(both.note.find("from -0.992676 to 0.992676") != std::string::npos);
    // Directions: z is some 1 in all texels, x from -0.26 to 0.26; 215 of 511 is 13361.
    const PictureFile up = read(dx10(96, bc6h_ramp({-215U, 0, 247}, {215U, 0, 247})));
    CHECK(up.note.empty());
    constexpr double x = 1073.0 / 4096.0, z = 2033.0 / 2048.0;
    CHECK(up.at(0, 0) == code_of(0.5 - 0.5 * x));
    CHECK(up.at(15, 0) == code_of(0.5 + 0.5 * x));
    CHECK(up.at(7, 1) == code_of(0.5));
    CHECK(up.at(7, 2) == code_of(0.5 + 0.5 * z));
}

TEST_CASE("BC7 and BC6H are the same in all containers, whatever their numbers") {
    const std::string bc7 = bc7_ramp({0, 90, 5, 127}, {127, 0, 60, 127}, 1, 1);
    const std::string bc6h = bc6h_ramp({0, 100, 200}, {300, 200, 100});
    const Codes as_bc7 = read(dx10(98, bc7)).values, as_bc6h = read(dx10(95, bc6h)).values;
    const Codes with_sign = read(dx10(96, bc6h)).values;
    for (const std::uint32_t dxgi : {97, 99}) CHECK(read(dx10(dxgi, bc7)).values == as_bc7);
    CHECK(read(dx10(94, bc6h)).values == as_bc6h);
    CHECK(with_sign != as_bc6h);
    // OpenGL's registry: 0x8E8C to 0x8E8F; Vulkan's VkFormat: 143 to 146.
    for (const std::uint32_t gl : {0x8E8C, 0x8E8D})
        CHECK(read(ktx1(4, 4, 0, 0, gl, bc7)).values == as_bc7);
    CHECK(read(ktx1(4, 4, 0, 0, 0x8E8E, bc6h)).values == with_sign);
    CHECK(read(ktx1(4, 4, 0, 0, 0x8E8F, bc6h)).values == as_bc6h);
    for (const std::uint32_t vulkan : {145, 146})
        CHECK(read(ktx2(4, 4, vulkan, bc7)).values == as_bc7);
    CHECK(read(ktx2(4, 4, 143, bc6h)).values == as_bc6h);
    CHECK(read(ktx2(4, 4, 144, bc6h)).values == with_sign);
}

TEST_CASE("BC7 and BC6H blocks stand over the edge, and short ones are refused") {
    std::string blocks;
    for (std::uint32_t b = 0; b < 4; ++b) blocks += bc7_ramp({b, b, b, 127}, {b, b, b, 127}, 1, 1);
    const PictureFile picture = read(dx10(98, blocks, 5, 6));
    CHECK(picture.at(3, 0) == 257);
    CHECK(picture.at(4, 0) == 257 * 3);
    CHECK(picture.at(5 * 4 + 3, 0) == 257 * 5);
    CHECK(picture.at(5 * 5 + 4, 0) == 257 * 7);
    for (const std::uint32_t dxgi : {95, 96, 98}) {
        CAPTURE(dxgi);
        CHECK(says(dx10(dxgi, blocks, 8, 12), "it promises 96 bytes"));
        CHECK(says(dx10(dxgi, blocks, 16384, 4096), "it promises 67108864 bytes"));
        CHECK(says(dx10(dxgi, blocks, 100000, 1), "it claims 100000 x 1 pixels"));
        const std::string whole = dx10(dxgi, blocks, 5, 6);
        for (std::size_t size = 0; size < whole.size(); ++size) {
            CAPTURE(size);
            CHECK(refusal(whole.substr(0, size)) != "was read");
        }
    }
}

TEST_CASE("a normal map in BC7 may have its x in alpha, with a little noise in red and blue") {
    // Red and blue are 254 or 255, by the bit that all channels of an end share.
    const PictureFile map = read(dx10(98, bc7_ramp({127, 20, 127, 0}, {127, 100, 127, 127}, 0, 1)));
    REQUIRE(map.channels == 3);
    CHECK(map.at(0, 0) == 0);
    CHECK(map.at(15, 0) == 65535);
    CHECK(map.at(0, 1) == 257 * 40);
    CHECK(map.at(15, 1) == 257 * 201);
    CHECK(map.at(15, 2) == 0);
    // Green that hardly varies is a cut-out's.
    CHECK(read(dx10(98, bc7_ramp({127, 20, 127, 0}, {127, 20, 127, 127}, 0, 1))).channels == 4);
}

TEST_CASE("the texel whose index is short is one of its subset") {
    // Otherwise no order of the ends would make its highest bit 0.
    using namespace bptc;
    for (unsigned n = 0; n < 64; ++n) {
        CAPTURE(n);
        CHECK(partition_of(2, n).subsets[second_of_two[n]] == 1);
        CHECK(partition_of(3, n).subsets[second_of_three[n]] == 1);
        CHECK(partition_of(3, n).subsets[third_of_three[n]] == 2);
        CHECK(partition_of(2, n).subsets[0] == 0);
        CHECK(partition_of(3, n).subsets[0] == 0);
    }
}
