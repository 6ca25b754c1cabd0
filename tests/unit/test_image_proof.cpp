// The proof sheet and the raking light. The sheet is decoded by libspng, which did not write it.

#include <doctest/doctest.h>
#include <spng.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "error.hpp"
#include "image/proof.hpp"

using namespace rakelight;

namespace {

struct Picture {
    int width = 0, height = 0;
    std::vector<std::uint8_t> rgb;
    int at(int x, int y, int channel = 0) const { return rgb[(y * width + x) * 3 + channel]; }
};

Picture decode(const std::vector<std::byte>& file) {
    const std::unique_ptr<spng_ctx, void (*)(spng_ctx*)> png(spng_ctx_new(0), spng_ctx_free);
    spng_ihdr header{};
    std::size_t size = 0;
    REQUIRE(spng_set_png_buffer(png.get(), file.data(), file.size()) == 0);
    REQUIRE(spng_get_ihdr(png.get(), &header) == 0);
    CHECK(header.bit_depth == 8);
    CHECK(header.color_type == SPNG_COLOR_TYPE_TRUECOLOR);
    REQUIRE(spng_decoded_image_size(png.get(), SPNG_FMT_RGB8, &size) == 0);
    Picture picture{static_cast<int>(header.width), static_cast<int>(header.height), {}};
    picture.rgb.resize(size);
    REQUIRE(spng_decode_image(png.get(), picture.rgb.data(), size, SPNG_FMT_RGB8, 0) == 0);
    return picture;
}

Image16 plain(int width, int height, std::uint16_t code) {
    Image16 image(width, height, 1);
    std::fill(image.codes.begin(), image.codes.end(), code);
    return image;
}

int sheet_grey(const Picture& picture) {
    return picture.at(0, 0);
}

/// Pixels of a rectangle that are not the sheet's own grey.
int inked(const Picture& picture, int x0, int y0, int x1, int y1) {
    int count = 0;
    for (int y = y0; y < y1; ++y) {
        for (int x = x0; x < x1; ++x) count += picture.at(x, y) != sheet_grey(picture);
    }
    return count;
}

constexpr int margin = ProofLayout::margin;

}  // namespace

TEST_CASE("proof: the sheet has the size that its parts add up to") {
    // 300 x 400 becomes 75 x 100; 600 x 200 becomes 100 x 33; so cells of 100 x 100.
    const std::vector<ProofPanel> panels{
        {"a", plain(300, 400, 60000)}, {"b", plain(600, 200, 60000)}, {"c", plain(20, 10, 60000)}};
    const Picture two = decode(encode_proof(panels, "title", {100, 2}));
    CHECK(two.width == 24 + 100 + 16 + 100 + 24);
    CHECK(two.height == 24 + 36 + (100 + 26) + 16 + (100 + 26) + 24);
    const Picture untitled = decode(encode_proof(panels, "", {100, 3}));
    CHECK(untitled.width == 24 + 3 * 100 + 2 * 16 + 24);
    CHECK(untitled.height == 24 + (100 + 26) + 24);
}

TEST_CASE("proof: columns are chosen for a sheet about 3:2") {
    for (const int count : {1, 2, 3, 5, 6, 8, 9, 24}) {
        CAPTURE(count);
        const std::vector<ProofPanel> panels(count, {"", plain(8, 8, 0)});
        const ProofLayout chosen = lay_out_proof(panels, "t", {480, 0});
        CHECK(chosen.columns * chosen.rows >= count);
        const auto distance = [](const ProofLayout& layout) {
            return std::abs(std::log(static_cast<double>(layout.width) / layout.height / 1.5));
        };
        for (int columns = 1; columns <= count; ++columns) {
            CHECK(distance(chosen) <= distance(lay_out_proof(panels, "t", {480, columns})));
        }
    }
}

TEST_CASE("proof: a panel keeps its grey, a smaller one is not enlarged") {
    const std::vector<ProofPanel> panels{{"", plain(200, 200, 257 * 200)},
                                         {"", plain(10, 10, 257 * 90)}};
    const Picture picture = decode(encode_proof(panels, "", {100, 2}));
    for (const int at : {margin, margin + 50, margin + 99}) {
        CHECK(picture.at(at, at) == 200);  // codes are 257 to a step of 8 bits
    }
    // At the middle of the second cell's foot.
    const int x0 = margin + 100 + ProofLayout::gap + 45;
    const int y0 = margin + 90;
    CHECK(picture.at(x0, y0) == 90);
    CHECK(picture.at(x0 + 9, y0 + 9) == 90);
    CHECK(picture.at(x0 - 3, y0 - 3) == sheet_grey(picture));
}

TEST_CASE("proof: scaling down averages areas") {
    // 3 x 3 to 2 x 2: each output pixel covers 1.5 x 1.5, whole pixels count 1, edge ones a half
    // and the corner between a quarter. Weights by hand: (1, 1/2; 1/2, 1/4) / 2.25.
    Image16 image(3, 3, 1);
    const int values[9] = {45, 90, 135, 180, 225, 0, 45, 90, 180};
    for (int i = 0; i < 9; ++i) image.codes[i] = static_cast<std::uint16_t>(257 * values[i]);
    const Picture picture = decode(encode_proof({{"", image}}, "", {2, 1}));
    const auto mean = [&](int corner, int across, int down, int middle) {
        const double sum =
            values[corner] + 0.5 * values[across] + 0.5 * values[down] + 0.25 * values[middle];
        return static_cast<int>(std::lround(sum / 2.25));
    };
    CHECK(picture.at(margin, margin) == mean(0, 1, 3, 4));
    CHECK(picture.at(margin + 1, margin) == mean(2, 1, 5, 4));
    CHECK(picture.at(margin, margin + 1) == mean(6, 7, 3, 4));
    CHECK(picture.at(margin + 1, margin + 1) == mean(8, 7, 5, 4));
}

TEST_CASE("proof: a scaled panel keeps the image's mean") {
    // A law of area averaging, for a ratio that is no whole number; rounding to 8 bits may add up
    // to half a step a pixel, and far less on average.
    Image16 image(101, 67, 1);
    double sum = 0.0;
    for (std::size_t i = 0; i < image.codes.size(); ++i) {
        image.codes[i] = static_cast<std::uint16_t>(i * 40503U);  // Knuth's multiplicative hash
        sum += image.codes[i] / 257.0;
    }
    const Picture picture = decode(encode_proof({{"", image}}, "", {38, 1}));
    const int height = picture.height - 2 * margin - ProofLayout::caption_height;
    double seen = 0.0;
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < 38; ++x) seen += picture.at(margin + x, margin + y);
    }
    CHECK(std::abs(seen / (38 * height) - sum / (101 * 67)) < 0.1);
}

TEST_CASE("proof: colour stays in its channel") {
    Image16 image(40, 40, 3);
    for (int i = 0; i < 1600; ++i) {
        image.codes[3 * i] = 257 * 250;
        image.codes[3 * i + 1] = 257 * 128;
        image.codes[3 * i + 2] = 257 * 3;
    }
    const Picture picture = decode(encode_proof({{"", image}}, "", {20, 1}));
    CHECK(picture.at(margin + 7, margin + 7, 0) == 250);
    CHECK(picture.at(margin + 7, margin + 7, 1) == 128);
    CHECK(picture.at(margin + 7, margin + 7, 2) == 3);
}

TEST_CASE("proof: title and captions are drawn, and stay in their place") {
    const std::vector<ProofPanel> panels{
        {"depth", plain(120, 120, 0)},
        {"a caption that is much too long for its panel, by far", plain(120, 120, 0)}};
    const Picture picture = decode(encode_proof(panels, "Ammonite medal", {120, 2}));
    const int top = margin + ProofLayout::title_height;
    CHECK(inked(picture, margin, 0, picture.width, top - 1) > 200);
    const int caption = top + 120 + 1;
    CHECK(inked(picture, margin, caption, margin + 120, picture.height) > 50);
    const int second = margin + 120 + ProofLayout::gap;
    CHECK(inked(picture, second, caption, second + 120, picture.height) > 100);
    CHECK(inked(picture, second + 120, caption, picture.width, picture.height) == 0);
    CHECK(inked(picture, 0, 0, margin - 1, picture.height) == 0);
    CHECK(inked(picture, 0, picture.height - margin + 6, picture.width, picture.height) == 0);
    // Without words there is nothing under the panels.
    const Picture silent = decode(encode_proof({{"", plain(120, 120, 0)}}, "", {120, 1}));
    CHECK(inked(silent, 0, margin + 121, silent.width, silent.height) == 0);
}

TEST_CASE("proof: words outside of printable ASCII do no harm") {
    const std::string odd = std::string("\n\t\x7F\xFF\xC3\xBC", 6) + std::string(1, '\0') + "end";
    const auto file = encode_proof({{odd, plain(300, 30, 0)}}, odd + std::string(5000, 'W'));
    const Picture picture = decode(file);
    CHECK(inked(picture, margin, margin + 36 + 31, picture.width - margin, picture.height) > 20);
}

TEST_CASE("proof: same input, same bytes") {
    const std::vector<ProofPanel> panels{{"x", plain(333, 77, 12345)}};
    CHECK(encode_proof(panels, "t") == encode_proof(panels, "t"));
}

TEST_CASE("proof: too large a sheet is refused, not wrapped around") {
    const std::vector<ProofPanel> panels{{"", plain(30000, 1, 0)}, {"", plain(1, 30000, 0)}};
    CHECK_THROWS_AS(encode_proof(panels, "", {30000, 2}), Error);
}

namespace {

/// As a proof shows it.
Image16 shown(const Plane& nx, const Plane& ny, const Plane& nz, const Plane& coverage,
              const Plane& occlusion, double lamp_deg, double height_deg) {
    Image16 picture = raking_light(nx, ny, nz, coverage, occlusion, lamp_deg, height_deg);
    encode_srgb(picture);
    return picture;
}

/// One pixel of a normal that is tilted by `tilt_deg` towards `turn_deg`.
double lit(double turn_deg, double tilt_deg, double lamp_deg, double height_deg, float open = 1.0F,
           float cover = 1.0F) {
    const double degree = std::acos(-1.0) / 180.0;
    Plane nx(1, 1), ny(1, 1), nz(1, 1), coverage(1, 1, cover), occlusion(1, 1, open);
    nx.at(0, 0) = static_cast<float>(std::sin(tilt_deg * degree) * std::cos(turn_deg * degree));
    ny.at(0, 0) = static_cast<float>(std::sin(tilt_deg * degree) * std::sin(turn_deg * degree));
    nz.at(0, 0) = static_cast<float>(std::cos(tilt_deg * degree));
    const Image16 picture = shown(nx, ny, nz, coverage, occlusion, lamp_deg, height_deg);
    const double code = picture.codes[0] / 65535.0;
    // Back to light by the inverse of sRGB's curve (IEC 61966-2-1).
    return code <= 0.04045 ? code / 12.92 : std::pow((code + 0.055) / 1.055, 2.4);
}

constexpr double curve_error = 4e-5;  // the step of a code at the bright end, 2.3 / 65535

}  // namespace

TEST_CASE("raking light: the stated formula, by hand") {
    // A slope that faces the lamp has n.lamp = 1 and turns its back to the fill.
    CHECK(lit(135, 70, 135, 20) == doctest::Approx(0.90 + 0.05).epsilon(curve_error));
    // Flat: n.lamp = sin 20 = 0.342020, n.fill = sin 12 = 0.207912.
    CHECK(lit(0, 0, 135, 20) ==
          doctest::Approx(0.90 * 0.342020 + 0.14 * 0.207912 + 0.05).epsilon(curve_error));
    // Facing the fill, turned from the lamp, half open.
    CHECK(lit(-45, 78, 135, 20, 0.5F) == doctest::Approx(0.14 + 0.05 * 0.25).epsilon(curve_error));
}

TEST_CASE("raking light: what faces the lamp is brighter than what turns away") {
    for (const double lamp : {0.0, 90.0, 135.0, 250.0}) {
        CAPTURE(lamp);
        CHECK(lit(lamp, 40, lamp, 20) > 1.5 * lit(lamp, 0, lamp, 20));
        CHECK(lit(lamp, 0, lamp, 20) > 1.5 * lit(lamp + 180, 40, lamp, 20));
        // Counter-clockwise: a quarter turn further both sides are alike.
        CHECK(lit(lamp + 90, 40, lamp, 20) ==
              doctest::Approx(lit(lamp - 90, 40, lamp, 20)).epsilon(1e-3));
    }
    // In the lamp's shade the slopes still differ: n.fill is cos 3 and cos 38, by hand a ratio of
    // (0.14 * 0.9986 + 0.05) / (0.14 * 0.7880 + 0.05) = 1.18.
    CHECK(lit(-45, 75, 135, 20) == doctest::Approx(1.184 * lit(-45, 40, 135, 20)).epsilon(1e-3));
}

TEST_CASE("raking light: turning relief and lamp together changes nothing") {
    for (const double turn : {30.0, 90.0, 200.0}) {
        CHECK(lit(10 + turn, 35, 135 + turn, 15) ==
              doctest::Approx(lit(10, 35, 135, 15)).epsilon(1e-3));
    }
    CHECK(lit(60, 35, 135, 15) != doctest::Approx(lit(10, 35, 135, 15)).epsilon(1e-3));
}

TEST_CASE("raking light: never clips, darkens recesses, blends over the background") {
    double brightest = 0.0;
    for (int turn = 0; turn < 360; turn += 15) {
        for (int tilt = 0; tilt <= 90; tilt += 5) {
            for (const double height : {0.0, 20.0, 60.0, 90.0}) {
                brightest = std::max(brightest, lit(turn, tilt, 135, height));
            }
        }
    }
    CHECK(brightest < 0.99);
    CHECK(lit(-45, 50, 135, 20, 0.2F) < 0.8 * lit(-45, 50, 135, 20, 1.0F));
    const double background = lit(0, 0, 135, 20, 1.0F, 0.0F);
    CHECK(background > 0.0);
    CHECK(background < 0.25 * lit(0, 0, 135, 20));
    CHECK(lit(0, 0, 135, 20, 1.0F, 0.5F) ==
          doctest::Approx((background + lit(0, 0, 135, 20)) / 2.0).epsilon(1e-3));
}

TEST_CASE("raking light: without occlusion everything is open") {
    const Plane flat(4, 3, 0.0F), up(4, 3, 1.0F);
    const Image16 without = shown(flat, flat, up, up, {}, 135, 20);
    const Image16 open = shown(flat, flat, up, up, up, 135, 20);
    CHECK(without.width == 4);
    CHECK(without.height == 3);
    CHECK(without.codes == open.codes);
}
