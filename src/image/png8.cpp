#include "image/png8.hpp"

#include <libdeflate.h>

#include <algorithm>
#include <array>
#include <cassert>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <new>
#include <string>
#include <string_view>

#include "image/deflated.hpp"

namespace rakelight {
namespace {

// PNG specification, third edition, 5.2: what every file begins with.
constexpr std::array<std::uint8_t, 8> signature{0x89, 'P', 'N', 'G', '\r', '\n', 0x1A, '\n'};
constexpr std::uint8_t grey = 0;  // 11.2.1, colour types
constexpr std::uint8_t truecolour = 2;
constexpr std::size_t idat_bytes = std::size_t{1} << 30;
enum Filter : std::uint8_t { none = 0, sub = 1, up = 2, average = 3, paeth = 4 };  // 9.2

// PNG specification, third edition, 9.4: the nearest to a + b - c of a (left), b (above) and
// c (above left).
int paeth_of(int a, int b, int c) {
    const int to_a = std::abs(b - c);
    const int to_b = std::abs(a - c);
    const int to_c = std::abs(a + b - 2 * c);
    return to_a <= to_b && to_a <= to_c ? a : to_b <= to_c ? b : c;
}

// ---- Writing ----

void put_u32(std::vector<std::byte>& to, std::uint32_t value) {
    for (const int shift : {24, 16, 8, 0}) to.push_back(static_cast<std::byte>(value >> shift));
}

void put_chunk(std::vector<std::byte>& to, std::string_view type, const std::uint8_t* data,
               std::size_t size) {
    put_u32(to, static_cast<std::uint32_t>(size));
    const std::size_t named = to.size();
    for (const char letter : type) to.push_back(static_cast<std::byte>(letter));
    const auto* bytes = reinterpret_cast<const std::byte*>(data);
    if (size > 0) to.insert(to.end(), bytes, bytes + size);
    put_u32(to, libdeflate_crc32(0, to.data() + named, to.size() - named));
}

void put_header(std::vector<std::byte>& to, const Image8& image) {
    std::vector<std::byte> fields;
    put_u32(fields, static_cast<std::uint32_t>(image.width));
    put_u32(fields, static_cast<std::uint32_t>(image.height));
    const std::uint8_t colour = image.channels == 1 ? grey : truecolour;
    for (const int field : {8, int{colour}, 0, 0, 0})
        fields.push_back(static_cast<std::byte>(field));
    put_chunk(to, "IHDR", reinterpret_cast<const std::uint8_t*>(fields.data()), fields.size());
}

// Paeth on every row: a relief is smooth, so that little is left of it.
std::vector<std::uint8_t> filtered(const Image8& image) {
    const std::size_t step = static_cast<std::size_t>(image.channels);
    const std::size_t row = step * static_cast<std::size_t>(image.width);
    std::vector<std::uint8_t> lines((row + 1) * static_cast<std::size_t>(image.height));
    const std::vector<std::uint8_t> nothing(row, 0);
    const std::uint8_t* above = nothing.data();
    std::uint8_t* to = lines.data();
    for (int y = 0; y < image.height; ++y) {
        const std::uint8_t* from = image.codes.data() + static_cast<std::size_t>(y) * row;
        *to++ = paeth;
        for (std::size_t i = 0; i < row; ++i) {
            const int left = i < step ? 0 : from[i - step];
            const int above_left = i < step ? 0 : above[i - step];
            *to++ = static_cast<std::uint8_t>(from[i] - paeth_of(left, above[i], above_left));
        }
        above = from;
    }
    return lines;
}

// ---- Reading ----

class Chunks {
public:
    explicit Chunks(std::span<const std::byte> file) : rest_(file) {
        if (file.size() < signature.size() ||
            std::memcmp(file.data(), signature.data(), signature.size()) != 0)
            throw UnreadablePng("it is no PNG file");
        rest_ = rest_.subspan(signature.size());
    }

    struct Chunk {
        std::string type;
        std::span<const std::byte> data;
    };
    Chunk next() {
        if (rest_.size() < 12) throw UnreadablePng("it ends too early");
        const std::size_t size = u32(rest_);
        if (size > rest_.size() - 12) throw UnreadablePng("it ends too early");
        const auto named = rest_.subspan(4, 4 + size);
        if (u32(rest_.subspan(8 + size)) != libdeflate_crc32(0, named.data(), named.size()))
            throw UnreadablePng("a checksum in it is wrong");
        rest_ = rest_.subspan(12 + size);
        return {std::string(reinterpret_cast<const char*>(named.data()), 4), named.subspan(4)};
    }
    static std::uint32_t u32(std::span<const std::byte> bytes) {
        std::uint32_t value = 0;
        for (int i = 0; i < 4; ++i)
            value = value << 8 | std::to_integer<std::uint32_t>(bytes[static_cast<std::size_t>(i)]);
        return value;
    }

private:
    std::span<const std::byte> rest_;
};

Image8 empty_image(const Chunks::Chunk& header, int longest_side) {
    if (header.type != "IHDR" || header.data.size() != 13)
        throw UnreadablePng("its header is missing");
    const std::uint32_t width = Chunks::u32(header.data);
    const std::uint32_t height = Chunks::u32(header.data.subspan(4));
    const auto most = static_cast<std::uint32_t>(longest_side);
    if (width == 0 || height == 0 || width > most || height > most)
        throw UnreadablePng("it claims " + std::to_string(width) + " x " + std::to_string(height) +
                            " px; at most " + std::to_string(longest_side) + " a side are read");
    const auto field = [&](std::size_t at) { return std::to_integer<int>(header.data[at]); };
    const bool known = field(8) == 8 && (field(9) == grey || field(9) == truecolour) &&
                       field(10) == 0 && field(11) == 0 && field(12) == 0;
    if (!known) throw UnreadablePng("it is not 8-bit grey or RGB");
    return {static_cast<int>(width), static_cast<int>(height), field(9) == grey ? 1 : 3};
}

int predicted(std::uint8_t filter, int a, int b, int c) {
    switch (filter) {
        case none:
            return 0;
        case sub:
            return a;
        case up:
            return b;
        case average:
            return (a + b) / 2;
        case paeth:
            return paeth_of(a, b, c);
        default:
            throw UnreadablePng("a row in it has an unknown filter");
    }
}

void unfilter(const std::vector<std::uint8_t>& lines, Image8& image) {
    const std::size_t step = static_cast<std::size_t>(image.channels);
    const std::size_t row = step * static_cast<std::size_t>(image.width);
    const std::vector<std::uint8_t> nothing(row, 0);
    const std::uint8_t* above = nothing.data();
    const std::uint8_t* from = lines.data();
    for (int y = 0; y < image.height; ++y) {
        std::uint8_t* to = image.codes.data() + static_cast<std::size_t>(y) * row;
        const std::uint8_t filter = *from++;
        for (std::size_t i = 0; i < row; ++i) {
            const int left = i < step ? 0 : to[i - step];
            const int above_left = i < step ? 0 : above[i - step];
            to[i] =
                static_cast<std::uint8_t>(*from++ + predicted(filter, left, above[i], above_left));
        }
        above = to;
    }
}

std::vector<std::uint8_t> inflated(const std::vector<std::byte>& stream, const Image8& image) {
    const std::unique_ptr<libdeflate_decompressor, decltype(&libdeflate_free_decompressor)>
        decompressor(libdeflate_alloc_decompressor(), &libdeflate_free_decompressor);
    if (decompressor == nullptr) throw std::bad_alloc();
    const auto height = static_cast<std::size_t>(image.height);
    std::vector<std::uint8_t> lines(image.codes.size() + height);
    // Without a place for the true size, another size than expected is a failure.
    if (libdeflate_zlib_decompress(decompressor.get(), stream.data(), stream.size(), lines.data(),
                                   lines.size(), nullptr) != LIBDEFLATE_SUCCESS)
        throw UnreadablePng("its pixels cannot be unpacked");
    return lines;
}

}  // namespace

std::vector<std::byte> encode_png8(const Image8& image, PngEffort effort) {
    assert(image.width > 0 && image.height > 0);
    assert(image.channels == 1 || image.channels == 3);
    const auto stream = deflated(filtered(image), effort == PngEffort::quick ? 1 : 4);
    std::vector<std::byte> file;
    file.reserve(stream.size() + 64);
    for (const auto byte : signature) file.push_back(static_cast<std::byte>(byte));
    put_header(file, image);
    for (std::size_t at = 0; at < stream.size(); at += idat_bytes)
        put_chunk(file, "IDAT", stream.data() + at, std::min(idat_bytes, stream.size() - at));
    put_chunk(file, "IEND", nullptr, 0);
    return file;
}

Image8 decode_png8(std::span<const std::byte> file, int longest_side) {
    Chunks chunks(file);
    Image8 image = empty_image(chunks.next(), longest_side);
    std::vector<std::byte> stream;
    for (Chunks::Chunk chunk = chunks.next(); chunk.type != "IEND"; chunk = chunks.next()) {
        if (chunk.type == "IDAT") stream.insert(stream.end(), chunk.data.begin(), chunk.data.end());
    }
    unfilter(inflated(stream, image), image);
    return image;
}

Image8 image8_from(const Image16& image) {
    Image8 small(image.width, image.height, image.channels);
    std::transform(
        image.codes.begin(), image.codes.end(), small.codes.begin(),
        [](std::uint16_t code) { return static_cast<std::uint8_t>((code + 128) / 257); });
    return small;
}

Image16 image16_from(const Image8& image) {
    Image16 wide(image.width, image.height, image.channels);
    std::transform(image.codes.begin(), image.codes.end(), wide.codes.begin(),
                   [](std::uint8_t code) { return static_cast<std::uint16_t>(code * 257); });
    return wide;
}

}  // namespace rakelight
