// TIFFs of floats: their header by hand after TIFF 6.0, their values by libtiff's own reader, and
// without it by Adobe's note on the predictor.

#include <doctest/doctest.h>
#include <tiffio.h>
#include <zlib.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <limits>
#include <map>
#include <memory>
#include <vector>

#include "image/float_tiff.hpp"

using namespace rakelight;

namespace {

using Bytes = std::vector<std::byte>;

/// Values of every kind, with a bit pattern of its own in each.
Plane sample(int width, int height) {
    Plane plane(width, height);
    for (std::size_t i = 0; i < plane.values.size(); ++i)
        plane.values[i] = std::sin(static_cast<float>(i)) * std::exp2(static_cast<float>(i % 40));
    plane.values.front() = -0.0F;
    if (plane.values.size() > 3) {
        plane.values[1] = std::numeric_limits<float>::denorm_min();
        plane.values[2] = -std::numeric_limits<float>::max();
        plane.values[3] = std::numeric_limits<float>::infinity();
    }
    return plane;
}

bool same_bits(const std::vector<float>& a, const std::vector<float>& b) {
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](float x, float y) {
        return std::bit_cast<std::uint32_t>(x) == std::bit_cast<std::uint32_t>(y);
    });
}

// ---- By hand ----

/// Fields of the one directory: each tag's numbers, of RATIONAL the quotient.
class Header {
public:
    explicit Header(const Bytes& file) : file_(file) {
        REQUIRE(file.size() > 8);
        CHECK(number(0, 2) == 0x4949);  // "II": little-endian; section 2, image file header
        CHECK(number(2, 2) == 42);
        const std::size_t directory = number(4, 4);
        CHECK(directory % 2 == 0);  // begins on a word boundary
        const std::size_t count = number(directory, 2);
        std::size_t before = 0;
        for (std::size_t i = 0; i < count; ++i) {
            const std::size_t at = directory + 2 + 12 * i;
            const std::size_t tag = number(at, 2);
            CHECK(before < tag);  // "must be sorted in ascending order by Tag"
            before = tag;
            read(tag, at);
        }
        CHECK(number(directory + 2 + 12 * count, 4) == 0);  // no further directory
    }

    const std::vector<double>& operator[](int tag) const {
        REQUIRE_MESSAGE(fields_.contains(static_cast<std::size_t>(tag)), "no tag " << tag);
        return fields_.at(static_cast<std::size_t>(tag));
    }

private:
    std::size_t number(std::size_t at, std::size_t size) const {
        REQUIRE(at + size <= file_.size());
        std::size_t value = 0;
        for (std::size_t i = 0; i < size; ++i)
            value |= std::to_integer<std::size_t>(file_[at + i]) << (8 * i);
        return value;
    }
    void read(std::size_t tag, std::size_t at) {
        const std::map<std::size_t, std::size_t> sizes{{3, 2}, {4, 4}, {5, 8}};
        const std::size_t type = number(at + 2, 2), count = number(at + 4, 4);
        REQUIRE_MESSAGE(sizes.contains(type), "tag " << tag << " has type " << type);
        const std::size_t size = sizes.at(type);
        const std::size_t values = size * count <= 4 ? at + 8 : number(at + 8, 4);
        for (std::size_t i = 0; i < count; ++i) {
            const std::size_t place = values + i * size;
            fields_[tag].push_back(type == 5 ? static_cast<double>(number(place, 4)) /
                                                   static_cast<double>(number(place + 4, 4))
                                             : static_cast<double>(number(place, size)));
        }
    }

    const Bytes& file_;
    std::map<std::size_t, std::vector<double>> fields_;
};

/// One row as floats. TIFF Technical Note 3, Adobe 2005: bytes are gathered by their
/// significance, the most significant first, and each is less the one before it.
void undo_predictor(std::uint8_t* row, std::size_t count, std::vector<float>& values) {
    for (std::size_t i = 1; i < 4 * count; ++i)
        row[i] = static_cast<std::uint8_t>(row[i] + row[i - 1]);
    for (std::size_t i = 0; i < count; ++i) {
        std::uint32_t bits = 0;
        for (std::size_t k = 0; k < 4; ++k) bits = bits << 8 | row[k * count + i];
        values.push_back(std::bit_cast<float>(bits));
    }
}

std::vector<float> unpacked_by_hand(const Bytes& file, const Header& header) {
    const auto width = static_cast<std::size_t>(header[256].at(0));
    auto rows_left = static_cast<std::size_t>(header[257].at(0));
    std::vector<float> values;
    for (std::size_t strip = 0; strip < header[273].size(); ++strip) {
        const std::size_t rows = std::min(rows_left, static_cast<std::size_t>(header[278].at(0)));
        rows_left -= rows;
        std::vector<std::uint8_t> raw(rows * width * 4);
        uLongf size = raw.size();
        const auto at = static_cast<std::size_t>(header[273][strip]);
        const auto packed = static_cast<std::size_t>(header[279].at(strip));
        REQUIRE(at + packed <= file.size());
        REQUIRE(uncompress(raw.data(), &size, reinterpret_cast<const Bytef*>(file.data() + at),
                           packed) == Z_OK);
        REQUIRE(size == raw.size());
        for (std::size_t y = 0; y < rows; ++y)
            undo_predictor(raw.data() + y * width * 4, width, values);
    }
    CHECK(rows_left == 0);
    return values;
}

// ---- By libtiff ----

struct Reading {
    const Bytes& file;
    std::size_t at = 0;

    static Reading& of(thandle_t handle) { return *static_cast<Reading*>(handle); }
    static tmsize_t read(thandle_t handle, void* to, tmsize_t size) {
        Reading& from = of(handle);
        const std::size_t left = from.file.size() - std::min(from.at, from.file.size());
        const std::size_t count = std::min(left, static_cast<std::size_t>(size));
        if (count > 0) std::memcpy(to, from.file.data() + from.at, count);
        from.at += count;
        return static_cast<tmsize_t>(count);
    }
    static tmsize_t write(thandle_t, void*, tmsize_t) { return 0; }
    static toff_t seek(thandle_t handle, toff_t offset, int from) {
        if (from == SEEK_CUR) offset += of(handle).at;
        if (from == SEEK_END) offset += of(handle).file.size();
        of(handle).at = static_cast<std::size_t>(offset);
        return offset;
    }
    static int close(thandle_t) { return 0; }
    static toff_t size(thandle_t handle) { return of(handle).file.size(); }
};

std::vector<float> read_by_library(const Bytes& file, int width, int height) {
    Reading reading{file};
    const std::unique_ptr<TIFF, void (*)(TIFF*)> tiff(
        TIFFClientOpen("test", "rm", &reading, Reading::read, Reading::write, Reading::seek,
                       Reading::close, Reading::size, nullptr, nullptr),
        TIFFClose);
    REQUIRE(tiff);
    std::uint32_t found_width = 0, found_height = 0;
    TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &found_width);
    TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &found_height);
    REQUIRE(found_width == static_cast<std::uint32_t>(width));
    REQUIRE(found_height == static_cast<std::uint32_t>(height));
    REQUIRE(TIFFScanlineSize(tiff.get()) == 4 * width);
    std::vector<float> values(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
    for (int y = 0; y < height; ++y)
        REQUIRE(TIFFReadScanline(tiff.get(), &values[static_cast<std::size_t>(y) * width],
                                 static_cast<std::uint32_t>(y), 0) == 1);
    return values;
}

}  // namespace

TEST_CASE("float TIFF: every bit comes back, by the library and without it") {
    // Strips have 64 rows: less than one, just one, and one with a rest.
    for (const auto& [width, height] : {std::pair{1, 1}, {1, 5}, {37, 64}, {33, 65}, {3, 200}}) {
        CAPTURE(width);
        CAPTURE(height);
        const Plane plane = sample(width, height);
        const Bytes file = encode_float_tiff(plane, 40.0);
        const Header header(file);
        CHECK(same_bits(unpacked_by_hand(file, header), plane.values));
        CHECK(same_bits(read_by_library(file, width, height), plane.values));
    }
}

TEST_CASE("float TIFF: the header says what TIFF 6.0 asks for") {
    for (const double px_per_mm : {40.0, 12.5, 300.0}) {
        const Header header(encode_float_tiff(sample(33, 65), px_per_mm));
        const auto one = [&](int tag) {
            REQUIRE(header[tag].size() == 1);
            return header[tag][0];
        };
        CHECK(one(256) == 33);  // ImageWidth
        CHECK(one(257) == 65);  // ImageLength
        CHECK(one(258) == 32);  // BitsPerSample
        CHECK(one(259) == 8);   // Compression: deflate, TIFF Technical Notes, Adobe 2002
        CHECK(one(262) == 1);   // PhotometricInterpretation: black is zero
        CHECK(one(277) == 1);   // SamplesPerPixel
        CHECK(one(284) == 1);   // PlanarConfiguration: chunky
        CHECK(one(317) == 3);   // Predictor: floating point, Technical Note 3
        CHECK(one(339) == 3);   // SampleFormat: IEEE floating point
        CHECK(header[273].size() == 2);
        CHECK(header[279].size() == 2);
        CHECK(one(296) == 3);  // ResolutionUnit: cm
        // Ten mm; the library keeps resolutions as floats.
        CHECK(one(282) == doctest::Approx(10.0 * px_per_mm).epsilon(1e-7));
        CHECK(one(283) == one(282));
    }
}

TEST_CASE("float TIFF: the same input makes the same bytes") {
    CHECK(encode_float_tiff(sample(33, 65), 40.0) == encode_float_tiff(sample(33, 65), 40.0));
    CHECK(encode_float_tiff(sample(33, 65), 40.0) != encode_float_tiff(sample(33, 65), 20.0));
}
