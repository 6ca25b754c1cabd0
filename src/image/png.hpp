#pragma once
// 16-bit PNG, linear: no gAMA, sRGB or iCCP chunk (PNG specification, third edition).

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct PngInfo {
    double px_per_m = 0.0;  ///< pHYs, rounded to a whole number; 0: none
    std::vector<std::pair<std::string, std::string>> text;  ///< tEXt, in this order; Latin-1
};

/// What a picture is, before its rows are known.
struct PngSize {
    int width = 0;  ///< px, at least 1
    int height = 0;
    int channels = 1;  ///< 1: grey, 3: RGB
};

/// Takes the bytes of a file, piece by piece; may throw.
using ByteSink = std::function<void(std::span<const std::byte>)>;

struct PngWriter;  // private to png.cpp

/// Up to so many bytes of codes a picture's filtered rows are kept and packed as a whole, by a
/// library that takes no pieces and is faster for it; larger ones go through zlib row by row.
inline constexpr std::size_t most_packed_at_once = std::size_t{64} << 20;

/// A PNG file on its way: 16 bits a channel, grey or RGB, not interlaced. Same input, same bytes,
/// however the rows are handed over.
class PngStream {
public:
    /// @param info  keywords of 1 to 79 characters without spaces at the ends; texts without NUL
    /// @param sink  called from add_rows and finish; what it throws comes out of them
    /// Throws Error(not_written) when the image or its resolution is too large for the format,
    /// std::logic_error when a keyword or text is not allowed.
    PngStream(const PngSize& size, const PngInfo& info, ByteSink sink);
    ~PngStream();
    PngStream(const PngStream&) = delete;
    PngStream& operator=(const PngStream&) = delete;

    /// @param codes  whole rows from the top, channels interleaved; not more than are missing
    void add_rows(std::span<const std::uint16_t> codes);
    /// After the last row.
    void finish();

private:
    std::unique_ptr<PngWriter> writer_;
};

/// The bytes of the PNG file of an image in memory.
std::vector<std::byte> encode_png(const Image16& image, const PngInfo& info);

/// UTF-8 as the Latin-1 that tEXt holds; what Latin-1 lacks becomes '?', one for each character.
std::string latin1_from_utf8(const std::string& text);

}  // namespace rakelight
