// DDS and KTX pictures, by hand from their specifications: blocks (Khronos Data Format
// Specification 1.3, chapters 18 and 19; Microsoft, "Texture Block Compression in Direct3D 11") and
// texels one by one.

#include <doctest/doctest.h>
#include <zlib.h>
#include <zstd.h>

#include <vector>

#include "test_picture_reading.hpp"
#include "test_picture_support.hpp"

using namespace rakelight;
using namespace picture_test;
using namespace std::string_literals;

namespace {

std::string as_dds(const char* code, const std::string& texels, std::uint32_t w = 4,
                   std::uint32_t h = 4) {
    return dds(w, h, {.code = code}, texels);
}

constexpr std::array<int, 16> first_eight{0, 1, 2, 3, 4, 5, 6, 7, 0, 1, 2, 3, 4, 5, 6, 7};
constexpr std::array<int, 16> first_four{0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2, 3};

Codes channel(const PictureFile& picture, std::uint32_t c, std::uint64_t count) {
    Codes codes;
    for (std::uint64_t i = 0; i < count; ++i) codes.push_back(picture.at(i, c));
    return codes;
}

}  // namespace

TEST_CASE("BC1 has two colours and two between, or one between and a hole") {
    // Red and blue in 5, 6 and 5 bits; the thirds of 65535 are whole.
    const std::string thirds = little(0xF800, 2) + little(0x001F, 2) + picks(2, first_four);
    const PictureFile four = read(as_dds("DXT1", thirds));
    REQUIRE(four.channels == 3);
    CHECK(channel(four, 0, 4) == Codes{65535, 0, 43690, 21845});
    CHECK(channel(four, 1, 4) == Codes{0, 0, 0, 0});
    CHECK(channel(four, 2, 4) == Codes{0, 65535, 21845, 43690});
    const std::string hole = little(0x001F, 2) + little(0xF800, 2) + picks(2, first_four);
    const PictureFile cut = read(as_dds("DXT1", hole));
    REQUIRE(cut.channels == 4);
    CHECK(channel(cut, 0, 4) == Codes{0, 65535, 32768, 0});
    CHECK(channel(cut, 3, 4) == Codes{65535, 65535, 65535, 0});
    // Six bits of green, five of red: 33/63 and 17/31.
    const std::string mixed = little(17 << 11 | 33 << 5, 2) + little(0, 2) + picks(2, {});
    CHECK(read(as_dds("DXT1", mixed)).at(0, 0) == 35939);  // 65535 * 17 / 31 = 35938.5
    CHECK(read(as_dds("DXT1", mixed)).at(0, 1) == 34328);  // 65535 * 33 / 63 = 34328
}

TEST_CASE("BC2 and BC3 have an alpha beside four colours") {
    const std::string colours = little(0x001F, 2) + little(0xF800, 2) + picks(2, first_four);
    std::array<int, 16> nibbles{};
    for (int i = 0; i < 16; ++i) nibbles[static_cast<std::size_t>(i)] = i;
    const PictureFile bc2 = read(as_dds("DXT3", picks(4, nibbles) + colours));
    REQUIRE(bc2.channels == 4);
    for (std::uint32_t i = 0; i < 16; ++i) CHECK(bc2.at(i, 3) == 4369 * i);
    // No hole here, whatever the order of the ends.
    CHECK(channel(bc2, 0, 4) == Codes{0, 65535, 21845, 43690});
    const PictureFile bc3 = read(as_dds("DXT5", "\xFF\0"s + picks(3, first_eight) + colours));
    REQUIRE(bc3.channels == 4);
    CHECK(channel(bc3, 3, 8) == Codes{65535, 0, 56173, 46811, 37449, 28086, 18724, 9362});
}

TEST_CASE("BC4 and BC5 have eight steps, or six and both ends of the range") {
    const std::string eight = "\xFF\0"s + picks(3, first_eight);
    const std::string six = "\0\xFF"s + picks(3, first_eight);
    const PictureFile bc4 = read(as_dds("ATI1", eight));
    REQUIRE(bc4.channels == 1);
    // Sevenths and fifths of 65535, rounded.
    CHECK(channel(bc4, 0, 8) == Codes{65535, 0, 56173, 46811, 37449, 28086, 18724, 9362});
    CHECK(channel(read(as_dds("BC4U", six)), 0, 8) ==
          Codes{0, 65535, 13107, 26214, 39321, 52428, 0, 65535});
    const PictureFile bc5 = read(as_dds("ATI2", eight + six));
    REQUIRE(bc5.channels == 3);
    CHECK(channel(bc5, 0, 3) == Codes{65535, 0, 56173});
    CHECK(channel(bc5, 1, 3) == Codes{0, 65535, 13107});
    CHECK(channel(bc5, 2, 3) == Codes{0, 0, 0});
    // Signed: 127 and -127 are the ends; -128 is -1 as well.
    const std::string ends = "\x7F\x81"s + picks(3, first_eight);
    const PictureFile signed5 =
        read(dds(4, 4, {.code = "DX10", .dxgi = 84}, ends + "\x80\x7F"s + picks(3, first_eight)));
    CHECK(channel(signed5, 0, 8) == Codes{65535, 0, 56173, 46811, 37449, 28086, 18724, 9362});
    CHECK(channel(signed5, 1, 8) == Codes{0, 65535, 13107, 26214, 39321, 52428, 0, 65535});
}

TEST_CASE("blocks stand over the edge of a picture whose sides are no multiples of four") {
    std::string blocks;
    for (int b = 0; b < 4; ++b) {
        const auto grey = static_cast<char>(50 * b + 10);
        blocks += std::string(2, grey) + picks(3, {});
    }
    const PictureFile picture = read(as_dds("BC4U", blocks, 5, 6));
    REQUIRE(picture.width == 5);
    REQUIRE(picture.height == 6);
    CHECK(picture.at(3, 0) == 257 * 10);
    CHECK(picture.at(4, 0) == 257 * 60);
    CHECK(picture.at(5 * 4 + 3, 0) == 257 * 110);
    CHECK(picture.at(5 * 5 + 4, 0) == 257 * 160);
}

TEST_CASE("a normal map in BC3 has its x in alpha; a cut-out of one colour stays what it is") {
    const std::string x = "\xFF\0"s + picks(3, first_eight);
    // Green 63/63 and 0, red and blue 0 in both.
    const std::string y = little(0x07E0, 2) + little(0, 2) + picks(2, first_four);
    const PictureFile map = read(as_dds("DXT5", x + y));
    REQUIRE(map.channels == 3);
    CHECK(channel(map, 0, 3) == Codes{65535, 0, 56173});
    CHECK(channel(map, 1, 3) == Codes{65535, 0, 43690});
    CHECK(map.at(2, 2) == 0);
    const PictureFile swapped =
        read(as_dds("RXGB", x + little(0x07FF, 2) + little(0x07FF, 2) + picks(2, first_four)));
    REQUIRE(swapped.channels == 3);
    CHECK(channel(swapped, 0, 3) == Codes{65535, 0, 56173});
    CHECK(channel(swapped, 2, 3) == Codes{65535, 65535, 65535});
    const PictureFile leaf =
        read(as_dds("DXT5", x + little(0x07E0, 2) + little(0x07E0, 2) + picks(2, first_four)));
    CHECK(leaf.channels == 4);
}

TEST_CASE("DDS texels one by one are found by their masks or their number") {
    const DdsFormat bgra{0x41, "\0\0\0\0"s, 32, {0xFF0000, 0xFF00, 0xFF, 0xFF000000}, 0, 0};
    const PictureFile four = read(dds(1, 2, bgra, "\1\2\3\4\5\6\7\x08"s));
    REQUIRE(four.channels == 4);
    CHECK(four.values == Codes{3 * 257, 2 * 257, 257, 4 * 257, 7 * 257, 6 * 257, 5 * 257, 8 * 257});
    const DdsFormat bgr{0x40, "\0\0\0\0"s, 24, {0xFF0000, 0xFF00, 0xFF, 0}, 0, 0};
    CHECK(read(dds(1, 1, bgr, "\1\2\3")).values == Codes{3 * 257, 2 * 257, 257});
    const DdsFormat l16{0x20000, "\0\0\0\0"s, 16, {0xFFFF, 0, 0, 0}, 0, 0};
    CHECK(read(dds(2, 1, l16, little(12345, 2) + little(1, 2))).values == Codes{12345, 1});
    const DdsFormat five{0x40, "\0\0\0\0"s, 16, {0xF800, 0x7E0, 0x1F, 0}, 0, 0};
    CHECK(read(dds(1, 1, five, little(31 << 11, 2))).values == Codes{65535, 0, 0});
    CHECK(read(dds(1, 1, five, little(17 << 11, 2))).at(0, 0) == 35939);  // 65535 * 17 / 31
    // R16G16_UNORM, R16_FLOAT (0.5 is 0x3800), R8G8_SNORM.
    const auto by_number = [](std::uint32_t dxgi, const std::string& texels) {
        return read(dds(1, 1, {.code = "DX10", .dxgi = dxgi}, texels)).values;
    };
    CHECK(by_number(35, little(1000, 2) + little(60001, 2)) == Codes{1000, 60001, 0});
    CHECK(by_number(54, little(0x3800, 2)) == Codes{32768});
    CHECK(by_number(51, "\x7F\x80"s) == Codes{65535, 0, 0});
    // B8G8R8X8: what stands for alpha is filling.
    CHECK(by_number(88, "\1\2\3\0"s) == Codes{3 * 257, 2 * 257, 257});
}

TEST_CASE("KTX pictures are read in either byte order, with rows of whole words, and turned") {
    // GL_RGB and GL_UNSIGNED_BYTE, 1 x 2: rows end at a multiple of 4 (KTX 1, 2.16).
    const PictureFile rgb = read(ktx1(1, 2, 0x1401, 0x1907, 0x8051, "\1\2\3\0\4\5\6\0"s));
    CHECK(rgb.values == Codes{257, 514, 771, 1028, 1285, 1542});
    const PictureFile swapped =
        read(ktx1(1, 1, 0x1403, 0x1903, 0x822A, big(12345, 2) + "\0\0"s, "", true));
    CHECK(swapped.values == Codes{12345});
    const std::string up = key_value("KTXorientation", "S=r,T=u");
    CHECK(read(ktx1(1, 2, 0x1401, 0x1903, 0x8229, "\1\0\0\0\2\0\0\0"s, up)).values ==
          Codes{514, 257});
    const std::string block = "\xFF\0"s + picks(3, first_eight);
    CHECK(read(ktx1(4, 4, 0, 0, 0x8DBD, block + block)).at(2, 1) == 56173);
}

TEST_CASE("KTX 2 pictures are read plain, packed by Zstandard and packed by zlib") {
    const std::string block = "\xFF\0"s + picks(3, first_eight);
    const std::string texels = block + block;  // VK_FORMAT_BC5_UNORM_BLOCK is 141
    const PictureFile plain = read(ktx2(4, 4, 141, texels));
    CHECK(channel(plain, 0, 3) == Codes{65535, 0, 56173});
    std::string zstd(ZSTD_compressBound(texels.size()), '\0');
    zstd.resize(ZSTD_compress(zstd.data(), zstd.size(), texels.data(), texels.size(), 3));
    CHECK(read(ktx2(4, 4, 141, zstd, 2, texels.size())).values == plain.values);
    uLongf size = compressBound(texels.size());
    std::string zlib(size, '\0');
    REQUIRE(compress(reinterpret_cast<Bytef*>(zlib.data()), &size,
                     reinterpret_cast<const Bytef*>(texels.data()), texels.size()) == Z_OK);
    zlib.resize(size);
    CHECK(read(ktx2(4, 4, 141, zlib, 3, texels.size())).values == plain.values);
    // Rows are not filled up here; the second key turns the picture (KTX 2.0, 5.2).
    const std::string up = key_value("KTXorientation", "ru");
    CHECK(read(ktx2(1, 2, 9, "\1\2", 0, 0, up)).values == Codes{514, 257});
    const std::string alpha = key_value("KTXswizzle", "rrrg");
    CHECK(read(ktx2(1, 1, 16, "\1\2", 0, 0, alpha)).channels == 2);
    // What is damaged, packed or not.
    CHECK(says(ktx2(4, 4, 141, zstd.substr(0, 9), 2, 16),
               "its packed texels are damaged; expected "
               "16 bytes"));
    CHECK(says(ktx2(4, 4, 141, zlib, 2, 16), "its packed texels are damaged"));
    CHECK(says(ktx2(8, 4, 141, zlib, 3, 32), "its packed texels are damaged; expected 32 bytes"));
}

TEST_CASE("what is not read in DDS and KTX is refused with its name") {
    const std::string some(4096, '\0');
    CHECK(says(ktx2(4, 4, 0, some, 1), "Basis Universal texels, which are not read; unpack"));
    CHECK(says(ktx2(4, 4, 0, some), "Basis Universal"));
    CHECK(
        says(ktx2(4, 4, 147, some), "KTX 2 file of ETC blocks, which are not read; expected BC1"));
    CHECK(says(ktx2(4, 4, 999, some), "Vulkan format 999"));
    CHECK(says(ktx2(4, 4, 9, some, 7), "packing 7"));
    CHECK(
        says(ktx2(4, 4, 37, some, 0, 0, key_value("KTXswizzle", "bgra")), "in the order \"bgra\""));
    CHECK(says(ktx1(4, 4, 0, 0, 0x8D64, some), "ETC blocks"));
    CHECK(says(ktx1(4, 4, 0x1405, 0x1903, 0, some), "OpenGL type"));
    CHECK(says(dds(4, 4, {.code = "DX10", .dxgi = 100}, some), "DDS file of DXGI format 100"));
    CHECK(says(as_dds("ZZ\1\2", some), "texels \"ZZ??\""));
    CHECK(says(dds(4, 4, {.code = "DXT1", .caps2 = 0x200}, some), "6 faces of a cube"));
    CHECK(says(dds(4, 4, {.code = "DXT1", .caps2 = 0x200000}, some), "a volume"));
}

TEST_CASE("claims beyond the limits or the file are refused before memory is taken") {
    const std::string some(64, '\0');
    for (const char* code : {"DXT1", "ATI2"}) {
        CHECK(says(as_dds(code, some, 100000, 100000),
                   "it claims 100000 x 100000 pixels; expected "
                   "1 to 16384 a side"));
        CHECK(says(as_dds(code, some, 0, 4), "it claims 0 x 4 pixels"));
        CHECK(says(as_dds(code, some, 8192, 8192), "it is cut short: it promises"));
    }
    CHECK(says(ktx2(100000, 100000, 141, some), "it claims 100000 x 100000"));
    CHECK(says(ktx2(4, 0, 141, some), "it claims 4 x 0"));
    CHECK(says(ktx1(100000, 2, 0, 0, 0x8DBD, some), "it claims 100000 x 2"));
    CHECK(says(ktx1(4096, 4096, 0x1406, 0x1908, 0, some), "it promises 268435456 bytes"));
    // Every truncation of a whole file.
    const std::string block = "\xFF\0"s + picks(3, first_eight);
    for (const std::string& whole :
         {as_dds("ATI2", block + block), ktx2(4, 4, 141, block + block),
          dds(4, 4, {.code = "DX10", .dxgi = 83}, block + block),
          ktx1(4, 4, 0, 0, 0x8DBD, block + block, key_value("KTXorientation", "S=r,T=d"))}) {
        REQUIRE(refusal(whole) == "was read");
        for (std::size_t size = 0; size < whole.size(); ++size) {
            CAPTURE(size);
            CHECK(refusal(whole.substr(0, size)) != "was read");
        }
    }
}
