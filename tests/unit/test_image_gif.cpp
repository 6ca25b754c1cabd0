// Moving pictures: read back by stb_image, which is not the library that wrote them.

#include <doctest/doctest.h>
#include <stb_image.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <set>
#include <string>

#include "image/gif.hpp"
#include "image/lamps.hpp"
#include "image/palette.hpp"

using namespace rakelight;

namespace {

/// Bronze from dark to bright along x, stained more and more along y.
Image8 bronze(int width, int height, float light = 1.0F) {
    Image8 image(width, height, 3);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            const float lit = light * static_cast<float>(x) / static_cast<float>(width - 1);
            const float stain = static_cast<float>(y) / static_cast<float>(height - 1);
            const std::array<float, 3> metal{0.70F, 0.47F, 0.26F}, dark{0.06F, 0.042F, 0.03F};
            for (std::size_t c = 0; c < 3; ++c) {
                const float linear = lit * (metal[c] + stain * (dark[c] - metal[c]));
                image.codes[(static_cast<std::size_t>(y) * width + x) * 3 + c] =
                    static_cast<std::uint8_t>(255.0F * srgb_from_linear(linear) + 0.5F);
            }
        }
    }
    return image;
}

struct Read {
    int width = 0, height = 0, count = 0;
    std::vector<int> delays_ms;
    std::vector<std::uint8_t> codes;  ///< RGB, picture by picture
};

Read by_stb(const std::vector<std::byte>& file) {
    Read read;
    int* delays = nullptr;
    int channels = 0;
    stbi_uc* codes = stbi_load_gif_from_memory(reinterpret_cast<const stbi_uc*>(file.data()),
                                               static_cast<int>(file.size()), &delays, &read.width,
                                               &read.height, &read.count, &channels, 3);
    REQUIRE(codes != nullptr);
    read.codes.assign(codes,
                      codes + static_cast<std::size_t>(read.width) * read.height * read.count * 3);
    read.delays_ms.assign(delays, delays + read.count);
    stbi_image_free(codes);
    std::free(delays);
    return read;
}

}  // namespace

TEST_CASE("gif: another reader finds every picture, its time, and its colours") {
    std::vector<Image8> turn;
    for (const float light : {0.4F, 0.7F, 1.0F, 0.7F}) turn.push_back(bronze(90, 40, light));
    const auto file = encode_gif(turn, 10);
    const Read read = by_stb(file);
    CHECK(read.width == 90);
    CHECK(read.height == 40);
    REQUIRE(read.count == 4);
    for (const int delay : read.delays_ms) CHECK(delay == 100);
    const Palette palette(turn);
    for (std::size_t i = 0; i < turn.size(); ++i) {
        const auto places = palette.indices(turn[i]);
        for (std::size_t p = 0; p < places.size(); ++p) {
            const Colour& colour = palette.colours()[places[p]];
            REQUIRE(std::equal(
                colour.begin(), colour.end(),
                read.codes.begin() + static_cast<std::ptrdiff_t>((i * places.size() + p) * 3)));
        }
    }
    CHECK(encode_gif(turn, 10) == file);
}

TEST_CASE("gif: it is GIF89a, and begins anew for ever") {
    const auto file = encode_gif(std::vector<Image8>{bronze(8, 8)}, 10);
    const std::string bytes(reinterpret_cast<const char*>(file.data()), file.size());
    CHECK(bytes.starts_with("GIF89a"));
    CHECK(bytes.ends_with(";"));
    // Application extension (GIF89a specification, 26) by the name that readers know: a block of 3,
    // 1, and how often as two bytes, 0 for without end.
    const std::string loop("\x21\xFF\x0BNETSCAPE2.0\x03\x01\x00\x00\x00", 19);
    CHECK(bytes.find(loop) != std::string::npos);
}

TEST_CASE("palette: up to 256 colours are kept as they are") {
    Image8 image(16, 16, 3);
    for (std::size_t i = 0; i < 256; ++i) {
        image.codes[3 * i] = static_cast<std::uint8_t>(i);
        image.codes[3 * i + 1] = static_cast<std::uint8_t>(255 - i / 2);
        image.codes[3 * i + 2] = static_cast<std::uint8_t>(i * 7);
    }
    const Palette palette({&image, 1});
    const auto places = palette.indices(image);
    for (std::size_t i = 0; i < 256; ++i) {
        const Colour& colour = palette.colours()[places[i]];
        CHECK(std::equal(colour.begin(), colour.end(), image.codes.begin() + 3 * i));
    }
    const Image8 black(5, 5, 3);
    CHECK(Palette({&black, 1}).colours().size() == 1);
}

TEST_CASE("palette: of many tints each is met closely, without a band that shows") {
    const Image8 image = bronze(400, 200);
    const Palette palette({&image, 1});
    CHECK(palette.colours().size() == 256);
    const auto places = palette.indices(image);
    std::set<std::array<std::uint8_t, 3>> tints;
    double sum = 0.0;
    int worst = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
        const std::uint8_t* code = image.codes.data() + 3 * i;
        tints.insert({code[0], code[1], code[2]});
        const int off = std::abs(palette.colours()[places[i]][1] - code[1]);
        sum += off;
        worst = std::max(worst, off);
    }
    CHECK(tints.size() > 1500);
    // 256 cells over an area of lights by stains: a line of them is 16 long, so that one is some
    // 190 / 16 / 2 codes from its edge to its middle at the most, and half of that in the mean.
    CHECK(worst <= 12);
    CHECK(sum / static_cast<double>(places.size()) < 3.0);
}
