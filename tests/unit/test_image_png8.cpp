// 8-bit PNG: read back by libspng, and files of libspng's read by ours.

#include <doctest/doctest.h>
#include <spng.h>

#include <cstring>
#include <memory>
#include <string>

#include "image/png8.hpp"

using namespace rakelight;

namespace {

using Png = std::unique_ptr<spng_ctx, void (*)(spng_ctx*)>;

Image8 noise(int width, int height, int channels) {
    Image8 image(width, height, channels);
    std::uint32_t state = 1;  // numerical recipes' linear congruence, from memory
    for (auto& code : image.codes)
        code = static_cast<std::uint8_t>((state = state * 1664525U + 1013904223U) >> 24);
    return image;
}

std::vector<std::uint8_t> by_libspng(const std::vector<std::byte>& file, int channels) {
    const Png png(spng_ctx_new(0), spng_ctx_free);
    spng_ihdr header{};
    std::size_t size = 0;
    const int format = channels == 1 ? SPNG_FMT_G8 : SPNG_FMT_RGB8;
    REQUIRE(spng_set_png_buffer(png.get(), file.data(), file.size()) == 0);
    REQUIRE(spng_get_ihdr(png.get(), &header) == 0);
    CHECK(header.bit_depth == 8);
    CHECK(header.color_type ==
          (channels == 1 ? SPNG_COLOR_TYPE_GRAYSCALE : SPNG_COLOR_TYPE_TRUECOLOR));
    REQUIRE(spng_decoded_image_size(png.get(), format, &size) == 0);
    std::vector<std::uint8_t> codes(size);
    REQUIRE(spng_decode_image(png.get(), codes.data(), size, format, 0) == 0);
    return codes;
}

std::vector<std::byte> made_by_libspng(const Image8& image, int filters) {
    const Png png(spng_ctx_new(SPNG_CTX_ENCODER), spng_ctx_free);
    spng_ihdr header{};
    header.width = static_cast<std::uint32_t>(image.width);
    header.height = static_cast<std::uint32_t>(image.height);
    header.bit_depth = 8;
    header.color_type = image.channels == 1 ? SPNG_COLOR_TYPE_GRAYSCALE : SPNG_COLOR_TYPE_TRUECOLOR;
    spng_set_option(png.get(), SPNG_ENCODE_TO_BUFFER, 1);
    spng_set_option(png.get(), SPNG_FILTER_CHOICE, filters);
    REQUIRE(spng_set_ihdr(png.get(), &header) == 0);
    REQUIRE(spng_encode_image(png.get(), image.codes.data(), image.codes.size(), SPNG_FMT_PNG,
                              SPNG_ENCODE_FINALIZE) == 0);
    std::size_t size = 0;
    int error = 0;
    const std::unique_ptr<void, void (*)(void*)> bytes(
        spng_get_png_buffer(png.get(), &size, &error), std::free);
    const auto* begin = static_cast<const std::byte*>(bytes.get());
    return {begin, begin + size};
}

}  // namespace

TEST_CASE("png8: libspng reads back what was written") {
    for (const int channels : {1, 3}) {
        for (const auto& [width, height] : {std::pair{1, 1}, {7, 5}, {300, 41}}) {
            const Image8 image = noise(width, height, channels);
            for (const PngEffort effort : {PngEffort::quick, PngEffort::small}) {
                const auto file = encode_png8(image, effort);
                CHECK(by_libspng(file, channels) == image.codes);
                CHECK(decode_png8(file).codes == image.codes);
            }
        }
    }
}

TEST_CASE("png8: reads what libspng writes, every filter of the specification") {
    for (const int channels : {1, 3}) {
        const Image8 image = noise(33, 17, channels);
        for (const int filters :
             {SPNG_FILTER_CHOICE_NONE, SPNG_FILTER_CHOICE_SUB, SPNG_FILTER_CHOICE_UP,
              SPNG_FILTER_CHOICE_AVG, SPNG_FILTER_CHOICE_PAETH, SPNG_FILTER_CHOICE_ALL}) {
            CAPTURE(filters);
            CHECK(decode_png8(made_by_libspng(image, filters)).codes == image.codes);
        }
    }
}

TEST_CASE("png8: a file cut anywhere, or with any byte changed, is refused or no longer the same") {
    const Image8 image = noise(9, 6, 3);
    const auto file = encode_png8(image);
    for (std::size_t size = 0; size < file.size(); ++size)
        CHECK_THROWS_AS(decode_png8(std::span(file).first(size)), UnreadablePng);
    for (std::size_t i = 0; i < file.size(); ++i) {
        auto spoilt = file;
        spoilt[i] ^= std::byte{0x10};
        CHECK_THROWS_AS(decode_png8(spoilt), UnreadablePng);
    }
}

TEST_CASE("png8: what claims to be larger than asked for is not read") {
    const auto file = encode_png8(Image8(65, 2, 1));
    CHECK(decode_png8(file, 65).width == 65);
    CHECK_THROWS_AS(decode_png8(file, 64), UnreadablePng);
}

TEST_CASE("png8: 16 bits to 8 and back") {
    Image16 wide(65536, 1, 1);
    for (int code = 0; code < 65536; ++code)
        wide.codes[static_cast<std::size_t>(code)] = static_cast<std::uint16_t>(code);
    const Image8 narrow = image8_from(wide);
    const Image16 back = image16_from(narrow);
    int worst = 0;
    for (std::size_t i = 0; i < 65536; ++i)
        worst = std::max(worst, std::abs(int{back.codes[i]} - static_cast<int>(i)));
    CHECK(worst == 128);  // half of 257, rounded down
    CHECK(image8_from(back).codes == narrow.codes);
}
