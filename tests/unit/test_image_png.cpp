// PNG files, read back by libspng (a reader that is not the writer), walked chunk by chunk against
// the PNG specification, third edition, and shown to pngcheck where it is installed.

#include <doctest/doctest.h>
#include <spng.h>
#include <zlib.h>

#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "error.hpp"
#include "image/png.hpp"

using namespace rakelight;

namespace {

/// Values without a pattern (a linear congruential generator; constants of Knuth's MMIX).
Image16 noise(int width, int height, int channels) {
    Image16 image(width, height, channels);
    std::uint64_t state = 42;
    for (auto& code : image.codes) {
        state = state * 6364136223846793005ULL + 1442695040888963407ULL;
        code = static_cast<std::uint16_t>(state >> 48);
    }
    return image;
}

/// A smooth relief on a black field: what the filter and the runs of zeros are chosen for.
Image16 dome(int width, int height) {
    Image16 image(width, height, 1);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            const double u = 2.2 * (x + 0.5) / width - 1.1;
            const double v = 2.2 * (y + 0.5) / height - 1.1;
            const double z = 1.0 - u * u - v * v;
            if (z > 0.0) image.codes[y * width + x] = static_cast<std::uint16_t>(655 + 64000 * z);
        }
    }
    return image;
}

struct Read {
    spng_ihdr header{};
    spng_phys resolution{};
    bool has_resolution = false;
    bool says_colour = false;  ///< gAMA, sRGB, iCCP or cHRM
    std::vector<std::uint16_t> codes;
    std::vector<std::pair<std::string, std::string>> text;
};

Read read_with_spng(const std::vector<std::byte>& file) {
    Read read;
    const std::unique_ptr<spng_ctx, void (*)(spng_ctx*)> png(spng_ctx_new(0), spng_ctx_free);
    REQUIRE(spng_set_png_buffer(png.get(), file.data(), file.size()) == 0);
    REQUIRE(spng_get_ihdr(png.get(), &read.header) == 0);
    std::size_t size = 0;
    REQUIRE(spng_decoded_image_size(png.get(), SPNG_FMT_PNG, &size) == 0);  // host byte order
    read.codes.resize(size / 2);
    REQUIRE(spng_decode_image(png.get(), read.codes.data(), size, SPNG_FMT_PNG, 0) == 0);
    REQUIRE(spng_decode_chunks(png.get()) == 0);
    read.has_resolution = spng_get_phys(png.get(), &read.resolution) == 0;
    double gamma = 0.0;
    std::uint8_t intent = 0;
    spng_iccp profile{};
    spng_chrm primaries{};
    read.says_colour =
        spng_get_gama(png.get(), &gamma) == 0 || spng_get_srgb(png.get(), &intent) == 0 ||
        spng_get_iccp(png.get(), &profile) == 0 || spng_get_chrm(png.get(), &primaries) == 0;
    std::uint32_t count = 0;
    if (spng_get_text(png.get(), nullptr, &count) == 0 && count > 0) {
        std::vector<spng_text> text(count);
        REQUIRE(spng_get_text(png.get(), text.data(), &count) == 0);
        for (const spng_text& entry : text) {
            CHECK(entry.type == SPNG_TEXT);  // tEXt, neither zTXt nor iTXt
            read.text.emplace_back(entry.keyword, std::string(entry.text, entry.length));
        }
    }
    return read;
}

std::uint32_t big_endian(const std::byte* at) {
    return static_cast<std::uint32_t>(at[0]) << 24 | static_cast<std::uint32_t>(at[1]) << 16 |
           static_cast<std::uint32_t>(at[2]) << 8 | static_cast<std::uint32_t>(at[3]);
}

/// The chunk types in order, runs of IDAT as one. Checks signature (specification, 5.2), layout
/// and CRC (5.3, 5.5) of every chunk.
std::vector<std::string> walk_chunks(const std::vector<std::byte>& file) {
    const unsigned char signature[8] = {137, 80, 78, 71, 13, 10, 26, 10};
    REQUIRE(file.size() > 8);
    REQUIRE(std::memcmp(file.data(), signature, 8) == 0);
    std::vector<std::string> types;
    for (std::size_t at = 8; at < file.size();) {
        REQUIRE(file.size() - at >= 12);
        const std::size_t length = big_endian(&file[at]);
        REQUIRE(file.size() - at - 12 >= length);
        const auto* type = reinterpret_cast<const unsigned char*>(&file[at + 4]);
        const auto crc = crc32(0, type, static_cast<uInt>(length + 4));
        CHECK(crc == big_endian(&file[at + 8 + length]));
        const std::string name(reinterpret_cast<const char*>(type), 4);
        if (name != "IDAT" || types.empty() || types.back() != "IDAT") types.push_back(name);
        at += 12 + length;
    }
    return types;
}

const PngInfo usual{40000.0,
                    {{"Title", "depth"}, {"Encoding", "z = far - code * step"}, {"Comment", ""}}};

}  // namespace

TEST_CASE("png: libspng reads back what was written") {
    struct Size {
        int width, height;
    };
    for (const int channels : {1, 3}) {
        for (const Size size :
             {Size{1, 1}, Size{1, 97}, Size{97, 1}, Size{33, 17}, Size{255, 64}}) {
            CAPTURE(channels);
            CAPTURE(size.width);
            const Image16 image = noise(size.width, size.height, channels);
            const Read read = read_with_spng(encode_png(image, usual));
            CHECK(read.header.width == static_cast<std::uint32_t>(size.width));
            CHECK(read.header.height == static_cast<std::uint32_t>(size.height));
            CHECK(read.header.bit_depth == 16);
            CHECK(read.header.color_type ==
                  (channels == 1 ? SPNG_COLOR_TYPE_GRAYSCALE : SPNG_COLOR_TYPE_TRUECOLOR));
            CHECK(read.header.interlace_method == 0);
            CHECK(read.codes == image.codes);
        }
    }
}

TEST_CASE("png: high byte first (specification, 7.1)") {
    // One grey pixel: zlib's stored bytes are filter type, high byte, low byte.
    Image16 image(1, 1, 1);
    image.codes[0] = 0x1234;
    const Read read = read_with_spng(encode_png(image, {}));
    CHECK(read.codes[0] == 0x1234);
}

TEST_CASE("png: a large smooth plane, in several IDAT chunks") {
    Image16 image = dome(800, 700);
    const std::vector<std::byte> file = encode_png(image, usual);
    CHECK(read_with_spng(file).codes == image.codes);
    CHECK(file.size() > 2 * 65536);               // more than one IDAT
    CHECK(file.size() < image.codes.size() * 2);  // it does compress
    CHECK(walk_chunks(file).size() == 7);         // and these stand together
}

TEST_CASE("png: every code survives") {
    Image16 image(256, 256, 1);
    for (std::size_t i = 0; i < 65536; ++i) image.codes[i] = static_cast<std::uint16_t>(i);
    CHECK(read_with_spng(encode_png(image, {})).codes == image.codes);
}

TEST_CASE("png: pixels per metre and text are exact, nothing speaks of colour") {
    const Read read = read_with_spng(encode_png(noise(5, 4, 1), usual));
    REQUIRE(read.has_resolution);
    CHECK(read.resolution.ppu_x == 40000);
    CHECK(read.resolution.ppu_y == 40000);
    CHECK(read.resolution.unit_specifier == 1);  // the metre (specification, 11.3.4.3)
    CHECK(read.text == usual.text);
    CHECK_FALSE(read.says_colour);
}

TEST_CASE("png: pixels per metre are rounded; 0 leaves the chunk out") {
    const auto read = [](double px_per_m) {
        return read_with_spng(encode_png(noise(2, 2, 1), {px_per_m, {}}));
    };
    CHECK(read(11811.02).resolution.ppu_x == 11811);  // 300 dpi = 300 / 0.0254
    CHECK(read(11811.5).resolution.ppu_y == 11812);
    CHECK_FALSE(read(0.0).has_resolution);
    CHECK_FALSE(read(0.4).has_resolution);
    // The largest number in a PNG is 2^31 - 1 (specification, 7.1).
    CHECK(read(2147483647.0).resolution.ppu_x == 2147483647U);
    CHECK_THROWS_AS(read(2147483648.0), Error);
}

TEST_CASE("png: chunks and their order (specification, 5.6)") {
    using Types = std::vector<std::string>;
    CHECK(walk_chunks(encode_png(noise(9, 9, 3), usual)) ==
          Types{"IHDR", "pHYs", "tEXt", "tEXt", "tEXt", "IDAT", "IEND"});
    CHECK(walk_chunks(encode_png(noise(9, 9, 1), {})) == Types{"IHDR", "IDAT", "IEND"});
}

TEST_CASE("png: keywords and texts that tEXt cannot hold (specification, 11.3.3.1)") {
    const Image16 image = noise(2, 2, 1);
    const auto write = [&](const std::string& keyword, const std::string& text) {
        return encode_png(image, {0.0, {{keyword, text}}});
    };
    CHECK_NOTHROW(write(std::string(79, 'k'), "longest"));
    CHECK_NOTHROW(write("Ma\xDF", "Latin-1: \xB5m, \xE9"));
    CHECK(read_with_spng(write("Ma\xDF", "\xB5m\n2")).text[0].second == "\xB5m\n2");
    for (const std::string& bad : {std::string(), std::string(80, 'k'), std::string(" a"),
                                   std::string("a "), std::string("a  b"), std::string("a\nb"),
                                   std::string("a\xA0"
                                               "b"),
                                   std::string("a\0b", 3)}) {
        CAPTURE(bad);
        CHECK_THROWS_AS(write(bad, "text"), std::logic_error);
    }
    CHECK_THROWS_AS(write("Key", std::string("a\0b", 3)), std::logic_error);
}

TEST_CASE("png: UTF-8 to Latin-1") {
    CHECK(latin1_from_utf8("keel 2") == "keel 2");
    CHECK(latin1_from_utf8("\u00B5m \u00FC\u00DF\u00FF") == "\xB5m \xFC\xDF\xFF");
    CHECK(latin1_from_utf8("a\u2192b\U0001F41Ac") == "a?b?c");
    CHECK(latin1_from_utf8("\xC3") == "?");  // cut off
    CHECK(latin1_from_utf8("\xC3"
                           "a") == "?a");          // no continuation
    CHECK(latin1_from_utf8("\x80\x80z") == "?z");  // continuations alone
    CHECK(latin1_from_utf8(std::string("a\0b", 3)) == "a?b");
}

TEST_CASE("png: same input, same bytes, on any thread") {
    const Image16 image = dome(301, 203);
    const std::vector<std::byte> first = encode_png(image, usual);
    CHECK(encode_png(image, usual) == first);
    std::vector<std::vector<std::byte>> files(6);
    std::vector<std::thread> threads;
    for (auto& file : files) {
        threads.emplace_back([&image, &file] { file = encode_png(image, usual); });
    }
    for (std::thread& thread : threads) thread.join();
    for (const auto& file : files) CHECK(file == first);
    // The guard: one code more, other bytes.
    Image16 other = image;
    other.codes[150 * 301 + 100] ^= 1;
    CHECK(encode_png(other, usual) != first);
}

TEST_CASE("png: pngcheck finds no fault") {
    if (std::system("command -v pngcheck > /dev/null 2>&1") != 0) {
        MESSAGE("pngcheck is not installed; skipped");
        return;
    }
    namespace fs = std::filesystem;
    std::string folder = (fs::temp_directory_path() / "rakelight-png-XXXXXX").string();
    REQUIRE(mkdtemp(folder.data()) != nullptr);
    const auto check = [&](const std::vector<std::byte>& file) {
        const std::string path = folder + "/image.png";
        std::ofstream(path, std::ios::binary)
            .write(reinterpret_cast<const char*>(file.data()),
                   static_cast<std::streamsize>(file.size()));
        return std::system(("pngcheck -q '" + path + "' > /dev/null 2>&1").c_str());
    };
    CHECK(check(encode_png(dome(640, 480), usual)) == 0);
    CHECK(check(encode_png(noise(37, 11, 3), usual)) == 0);
    CHECK(check(encode_png(noise(1, 1, 1), {})) == 0);
    std::vector<std::byte> broken = encode_png(noise(37, 11, 3), usual);
    broken[broken.size() / 2] ^= std::byte{1};
    CHECK(check(broken) != 0);  // the guard: it would have noticed
    fs::remove_all(folder);
}
