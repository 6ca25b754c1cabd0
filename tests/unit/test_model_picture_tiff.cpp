// TIFF pictures, written by libtiff and by hand with texels that are known.

#include <doctest/doctest.h>
#include <tiffio.h>

#include <cmath>
#include <limits>

#include "test_picture_reading.hpp"
#include "test_picture_support.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using namespace picture_test;
using texture_test::Folder;

namespace {

struct TiffKind {
    const char* mode = "wl";
    std::uint32_t width = 5, height = 3;
    std::uint16_t bits = 16, samples = 3, format = SAMPLEFORMAT_UINT, photometric = PHOTOMETRIC_RGB,
                  planar = PLANARCONFIG_CONTIG, compression = COMPRESSION_NONE, orientation = 1;
    std::uint16_t extra = 0xFFFF;  ///< what the last sample is, where it is no colour
    bool tiled = false;
    std::uint32_t rows_per_strip = 2;
};

/// What a texel's sample is, as it is stored.
double stored(const TiffKind& k, std::uint32_t x, std::uint32_t y, std::uint32_t s) {
    const double share = (1.0 + x + 5.0 * y + 17.0 * s) / 80.0;
    if (k.format == SAMPLEFORMAT_IEEEFP) return share;
    return std::floor(share * (std::ldexp(1.0, k.bits) - 1.0));
}

std::uint16_t wanted_code(const TiffKind& k, std::uint32_t x, std::uint32_t y, std::uint32_t s) {
    double v = stored(k, x, y, s);
    if (k.format == SAMPLEFORMAT_IEEEFP) {
        // What a half or a float has rounded is far below a code: 1/80 steps, 11 bits and more.
        return static_cast<std::uint16_t>(std::lround(65535.0 * v));
    }
    return static_cast<std::uint16_t>(std::lround(65535.0 * v / (std::ldexp(1.0, k.bits) - 1.0)));
}

/// Samples in this machine's order, as libtiff takes them; fewer than 8 bits from the highest down.
class Packed {
public:
    explicit Packed(const TiffKind& kind) : kind_(kind) {}
    void add(double value) {
        if (kind_.format == SAMPLEFORMAT_IEEEFP && kind_.bits == 32)
            append(static_cast<float>(value));
        else if (kind_.format == SAMPLEFORMAT_IEEEFP)
            append(value);
        else if (kind_.bits == 32)
            append(static_cast<std::uint32_t>(value));
        else if (kind_.bits == 16)
            append(static_cast<std::uint16_t>(value));
        else
            for (int b = kind_.bits; b-- > 0;) bit(static_cast<unsigned>(value) >> b & 1U);
    }
    void end_row() {
        while (bits_ % 8 != 0) bit(0);
    }
    std::string bytes;

private:
    template <class T>
    void append(T value) {
        bytes.append(reinterpret_cast<const char*>(&value), sizeof value);
    }
    void bit(unsigned b) {
        if (bits_++ % 8 == 0) bytes += '\0';
        bytes.back() = static_cast<char>(static_cast<unsigned char>(bytes.back()) |
                                         b << (7 - (bits_ - 1) % 8));
    }
    const TiffKind& kind_;
    unsigned bits_ = 0;
};

std::string samples_of(const TiffKind& k, std::uint32_t x0, std::uint32_t y0, std::uint32_t width,
                       std::uint32_t height, int plane) {
    Packed packed(k);
    for (std::uint32_t y = y0; y < y0 + height; ++y) {
        for (std::uint32_t x = x0; x < x0 + width; ++x)
            for (std::uint32_t s = 0; s < k.samples; ++s)
                if (plane < 0 || static_cast<int>(s) == plane)
                    packed.add(x < k.width && y < k.height ? stored(k, x, y, s) : 0.0);
        packed.end_row();
    }
    return packed.bytes;
}

std::string tiff_file(const TiffKind& k, const std::function<void(TIFF*)>& more = {}) {
    const Folder folder;
    const std::string path = folder / "a.tif";
    TIFF* file = TIFFOpen(path.c_str(), k.mode);
    REQUIRE(file != nullptr);
    TIFFSetField(file, TIFFTAG_IMAGEWIDTH, k.width);
    TIFFSetField(file, TIFFTAG_IMAGELENGTH, k.height);
    TIFFSetField(file, TIFFTAG_BITSPERSAMPLE, k.bits);
    TIFFSetField(file, TIFFTAG_SAMPLESPERPIXEL, k.samples);
    TIFFSetField(file, TIFFTAG_SAMPLEFORMAT, k.format);
    TIFFSetField(file, TIFFTAG_PHOTOMETRIC, k.photometric);
    TIFFSetField(file, TIFFTAG_PLANARCONFIG, k.planar);
    TIFFSetField(file, TIFFTAG_COMPRESSION, k.compression);
    TIFFSetField(file, TIFFTAG_ORIENTATION, k.orientation);
    if (k.extra != 0xFFFF) TIFFSetField(file, TIFFTAG_EXTRASAMPLES, 1, &k.extra);
    if (more) more(file);
    const int planes = k.planar == PLANARCONFIG_SEPARATE ? k.samples : 1;
    const auto plane_of = [&](int p) { return planes > 1 ? p : -1; };
    std::uint32_t piece = 0;
    if (k.tiled) {
        TIFFSetField(file, TIFFTAG_TILEWIDTH, 16);
        TIFFSetField(file, TIFFTAG_TILELENGTH, 16);
    } else {
        TIFFSetField(file, TIFFTAG_ROWSPERSTRIP, k.rows_per_strip);
    }
    for (int p = 0; p < planes; ++p) {
        const std::uint32_t step = k.tiled ? 16 : k.rows_per_strip;
        for (std::uint32_t y = 0; y < k.height; y += step)
            for (std::uint32_t x = 0; x < k.width; x += k.tiled ? 16 : k.width) {
                const std::uint32_t w = k.tiled ? 16 : k.width;
                const std::uint32_t h = k.tiled ? 16 : std::min(step, k.height - y);
                std::string bytes = samples_of(k, x, y, w, h, plane_of(p));
                const auto size = static_cast<tmsize_t>(bytes.size());
                REQUIRE((k.tiled ? TIFFWriteEncodedTile(file, piece, bytes.data(), size)
                                 : TIFFWriteEncodedStrip(file, piece, bytes.data(), size)) == size);
                ++piece;
            }
    }
    TIFFClose(file);
    return content(path);
}

void check_all(const TiffKind& k, const std::string& bytes) {
    const PictureFile picture = read(bytes);
    REQUIRE(picture.width == k.width);
    REQUIRE(picture.height == k.height);
    REQUIRE(picture.channels == k.samples);
    int wrong = 0;
    for (std::uint32_t y = 0; y < k.height; ++y)
        for (std::uint32_t x = 0; x < k.width; ++x)
            for (std::uint32_t s = 0; s < k.samples; ++s)
                wrong += picture.at(std::uint64_t{y} * k.width + x, s) != wanted_code(k, x, y, s);
    CHECK(wrong == 0);
}

}  // namespace

TEST_CASE("TIFF of every depth, order, packing and arrangement gives its numbers") {
    std::vector<TiffKind> kinds;
    for (const char* mode : {"wl", "wb", "w8"})
        for (const int bits : {8, 16, 32})
            kinds.push_back({.mode = mode, .bits = static_cast<std::uint16_t>(bits)});
    for (const int bits : {1, 2, 4, 8, 12, 16, 32})
        kinds.push_back({.bits = static_cast<std::uint16_t>(bits),
                         .samples = 1,
                         .photometric = PHOTOMETRIC_MINISBLACK});
    for (const int bits : {32, 64})
        kinds.push_back({.bits = static_cast<std::uint16_t>(bits), .format = SAMPLEFORMAT_IEEEFP});
    for (const int packing :
         {COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_PACKBITS, COMPRESSION_ZSTD})
        kinds.push_back({.compression = static_cast<std::uint16_t>(packing)});
    kinds.push_back({.planar = PLANARCONFIG_SEPARATE});
    kinds.push_back({.width = 37, .height = 21, .tiled = true});
    kinds.push_back({.width = 37, .height = 21, .planar = PLANARCONFIG_SEPARATE, .tiled = true});
    kinds.push_back({.samples = 4, .extra = EXTRASAMPLE_UNASSALPHA});
    kinds.push_back(
        {.samples = 2, .photometric = PHOTOMETRIC_MINISBLACK, .extra = EXTRASAMPLE_UNASSALPHA});
    for (const TiffKind& k : kinds) {
        CAPTURE(k.mode);
        CAPTURE(k.bits);
        CAPTURE(k.samples);
        CAPTURE(k.compression);
        CAPTURE(k.tiled);
        check_all(k, tiff_file(k));
    }
}

TEST_CASE("a TIFF that counts from white, by a palette or with colours multiplied is undone") {
    const TiffKind white{.samples = 1, .photometric = PHOTOMETRIC_MINISWHITE};
    CHECK(read(tiff_file(white)).at(7, 0) == 65535 - wanted_code(white, 2, 1, 0));
    const TiffKind palette{.bits = 4, .samples = 1, .photometric = PHOTOMETRIC_PALETTE};
    const PictureFile coloured = read(tiff_file(palette, [](TIFF* file) {
        std::array<std::array<std::uint16_t, 16>, 3> map{};
        for (std::size_t c = 0; c < 3; ++c)
            for (std::size_t i = 0; i < 16; ++i)
                map[c][i] = static_cast<std::uint16_t>(1000 * (c + 1) + i);
        TIFFSetField(file, TIFFTAG_COLORMAP, map[0].data(), map[1].data(), map[2].data());
    }));
    REQUIRE(coloured.channels == 3);
    const auto place = static_cast<int>(stored(palette, 4, 2, 0));
    for (std::uint32_t c = 0; c < 3; ++c)
        CHECK(coloured.at(14, c) == 1000 * (static_cast<int>(c) + 1) + place);
    const TiffKind multiplied{.samples = 4, .extra = EXTRASAMPLE_ASSOCALPHA};
    const PictureFile divided = read(tiff_file(multiplied));
    const double alpha = wanted_code(multiplied, 2, 1, 3), red = wanted_code(multiplied, 2, 1, 0);
    CHECK(divided.at(7, 0) == std::lround(65535.0 * red / alpha));
    // Samples that are neither colour nor alpha are left out.
    CHECK(read(tiff_file({.samples = 4, .extra = EXTRASAMPLE_UNSPECIFIED})).channels == 3);
}

TEST_CASE("a TIFF stands upright whatever its orientation") {
    // TIFF 6.0, page 36: where row 0 and column 0 are. From a stored place to the upright one.
    for (std::uint16_t o = 1; o <= 8; ++o) {
        CAPTURE(o);
        const TiffKind k{.samples = 1, .photometric = PHOTOMETRIC_MINISBLACK, .orientation = o};
        const PictureFile picture = read(tiff_file(k));
        REQUIRE(picture.width == (o < 5 ? 5 : 3));
        REQUIRE(picture.height == (o < 5 ? 3 : 5));
        const std::uint32_t w = picture.width, h = picture.height;
        int wrong = 0;
        for (std::uint32_t row = 0; row < 3; ++row)
            for (std::uint32_t column = 0; column < 5; ++column) {
                std::uint32_t x = 0, y = 0;
                switch (o) {
                    case 1:
                        x = column, y = row;
                        break;  // top, left
                    case 2:
                        x = w - 1 - column, y = row;
                        break;  // top, right
                    case 3:
                        x = w - 1 - column, y = h - 1 - row;
                        break;  // bottom, right
                    case 4:
                        x = column, y = h - 1 - row;
                        break;  // bottom, left
                    case 5:
                        x = row, y = column;
                        break;  // left, top
                    case 6:
                        x = w - 1 - row, y = column;
                        break;  // right, top
                    case 7:
                        x = w - 1 - row, y = h - 1 - column;
                        break;  // right, bottom
                    default:
                        x = row, y = h - 1 - column;
                        break;  // left, bottom
                }
                wrong += picture.at(std::uint64_t{y} * w + x, 0) != wanted_code(k, column, row, 0);
            }
        CHECK(wrong == 0);
    }
}

TEST_CASE("a TIFF of JPEG's YCbCr gives its colours") {
    // One grey all over: JPEG keeps it to a step of 255.
    const Folder folder;
    const std::string path = folder / "j.tif";
    TIFF* file = TIFFOpen(path.c_str(), "w");
    for (const auto& [tag, value] :
         std::vector<std::pair<std::uint32_t, int>>{{TIFFTAG_IMAGEWIDTH, 16},
                                                    {TIFFTAG_IMAGELENGTH, 16},
                                                    {TIFFTAG_BITSPERSAMPLE, 8},
                                                    {TIFFTAG_SAMPLESPERPIXEL, 3},
                                                    {TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG},
                                                    {TIFFTAG_COMPRESSION, COMPRESSION_JPEG},
                                                    {TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_YCBCR},
                                                    {TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB},
                                                    {TIFFTAG_ROWSPERSTRIP, 16}})
        TIFFSetField(file, tag, value);
    std::string texels;
    for (int i = 0; i < 256; ++i) texels += "\xC8\x64\x32";
    REQUIRE(TIFFWriteEncodedStrip(file, 0, texels.data(), 768) == 768);
    TIFFClose(file);
    const PictureFile picture = read(content(path));
    REQUIRE(picture.channels == 3);
    // Rounding of three matrices and of the cosines: common practice, a few steps of 255.
    CHECK(std::abs(picture.at(100, 0) - 257 * 200) <= 257 * 3);
    CHECK(std::abs(picture.at(100, 1) - 257 * 100) <= 257 * 3);
    CHECK(std::abs(picture.at(100, 2) - 257 * 50) <= 257 * 3);
}

TEST_CASE("TIFF that is not read, damaged or too large is refused with what it is") {
    CHECK(says(tiff_file({.samples = 4, .photometric = PHOTOMETRIC_SEPARATED}),
               "of inks (CMYK); "
               "expected grey, RGB"));
    CHECK(says(tiff_file({.photometric = PHOTOMETRIC_CIELAB}), "L*a*b*"));
    CHECK(says(tiff_file({.format = SAMPLEFORMAT_INT}), "whole numbers with a sign"));
    CHECK(says(tiff_file({.bits = 8, .photometric = PHOTOMETRIC_YCBCR}), "YCbCr without JPEG"));
    const std::string whole = tiff16(5, 3, [](int x, int y, int c) {
        return static_cast<std::uint16_t>(1000 * x + 100 * y + c);
    });
    REQUIRE(refusal(whole) == "was read");
    CHECK(read(whole).at(7, 2) == 2102);
    const auto patched = [&](std::size_t tag, std::uint32_t value) {
        std::string bytes = whole;
        return bytes.replace(10 + 12 * tag + 8, 4, little(value));
    };
    std::string huge = patched(0, 100000);
    huge.replace(10 + 12 + 8, 4, little(100000));
    CHECK(says(huge, "it claims 100000 x 100000 pixels; expected 1 to 16384 a side"));
    CHECK(says(patched(0, 0), "cannot be read (Computed scanline size is zero)"));
    CHECK(says(patched(1, 0), "cannot be read (Cannot handle zero number of strips)"));
    CHECK(says(patched(6, 60000), "cannot be read"));  // samples, of which BitsPerSample has 3
    CHECK(says(patched(3, 9999), "packing 9999"));
    CHECK(says(patched(5, 1 << 30), "cannot be read"));  // where the strip lies
    for (std::size_t size = 0; size < whole.size(); ++size) {
        CAPTURE(size);
        REQUIRE(refusal(whole.substr(0, size)) != "was read");
    }
    const std::string packed = tiff_file({.compression = COMPRESSION_LZW});
    for (std::size_t i = 8; i < packed.size(); ++i) {
        std::string spoilt = packed;
        spoilt[i] = static_cast<char>(~spoilt[i]);
        refusal(spoilt);  // read or refused, and nothing else
    }
}

TEST_CASE("floats beyond black and white are spread, with a note; directions are not") {
    const TiffKind grey{.width = 4,
                        .height = 1,
                        .bits = 32,
                        .samples = 1,
                        .format = SAMPLEFORMAT_IEEEFP,
                        .photometric = PHOTOMETRIC_MINISBLACK};
    const std::string file = tiff_file(grey);
    const auto with = [&](const std::array<float, 4>& values) {
        std::array<float, 4> old{};
        for (std::uint32_t x = 0; x < 4; ++x) old[x] = static_cast<float>(stored(grey, x, 0, 0));
        std::string bytes = file;
        const std::string before(reinterpret_cast<const char*>(old.data()), sizeof old);
        const std::size_t at = bytes.find(before);
        REQUIRE(at != std::string::npos);
        return bytes.replace(at, sizeof old, reinterpret_cast<const char*>(values.data()),
                             sizeof values);
    };
    const PictureFile spread = read(with({-2.0F, 0.0F, 1.0F, 2.0F}));
    CHECK(spread.values == Codes{0, 32768, 49151, 65535});
    CHECK(spread.note ==
          "its values run from -2 to 2, beyond 0 to 1: the least was taken for "
          "black, the largest for white");
    CHECK(read(with({0.0F, 0.25F, 0.5F, 1.0F})).note.empty());
    CHECK(read(with({0.0F, 0.25F, 0.5F, 1.0F})).values == Codes{0, 16384, 32768, 65535});
    CHECK(says(with({0.0F, NAN, 0.5F, std::numeric_limits<float>::infinity()}),
               "2 of its 4 values are infinite or no numbers"));
}

TEST_CASE("TIFF is unpacked in the confined child, whatever its packing") {
    for (const int packing : {COMPRESSION_LZW, COMPRESSION_ADOBE_DEFLATE, COMPRESSION_LZMA,
                              COMPRESSION_ZSTD, COMPRESSION_LERC}) {
        CAPTURE(packing);
        const TiffKind kind{.compression = static_cast<std::uint16_t>(packing)};
        const Mesh mesh = texture_test::load(texture_test::sheet(10.0, 2), tiff_file(kind));
        REQUIRE(mesh.facts().textures.size() == 1);
        CHECK(mesh.facts().textures[0].state == "read");
    }
}
