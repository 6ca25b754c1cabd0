// TIFF 6.0 and its technical notes, through libtiff: what it unpacks is taken apart here, so that
// no number loses its bits and no colour is turned into another.

#include <tiffio.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <memory>

#include "model/import_bytes.hpp"
#include "model/pictures/picture_texels.hpp"

namespace rakelight {
namespace {

/// Where libtiff reads, and the first thing that it complains of.
struct Source {
    PictureBytes bytes;
    std::uint64_t at = 0;
    std::string fault;
};

Source& source_of(thandle_t handle) {
    return *static_cast<Source*>(handle);
}

tmsize_t read_some(thandle_t handle, void* to, tmsize_t count) {
    Source& s = source_of(handle);
    const std::uint64_t left = s.at < s.bytes.size() ? s.bytes.size() - s.at : 0;
    const std::uint64_t size =
        std::min(left, static_cast<std::uint64_t>(std::max<tmsize_t>(count, 0)));
    if (size > 0) std::memcpy(to, s.bytes.data() + s.at, size);
    s.at += size;
    return static_cast<tmsize_t>(size);
}

tmsize_t write_none(thandle_t, void*, tmsize_t) {
    return 0;
}

toff_t seek(thandle_t handle, toff_t offset, int whence) {
    Source& s = source_of(handle);
    const std::uint64_t from = whence == SEEK_CUR   ? s.at
                               : whence == SEEK_END ? std::uint64_t{s.bytes.size()}
                                                    : 0;
    s.at = from + offset;
    return s.at;
}

int close_none(thandle_t) {
    return 0;
}

toff_t size_of(thandle_t handle) {
    return source_of(handle).bytes.size();
}

int note_fault(TIFF*, void* user, const char*, const char* format, va_list values) {
    Source& s = *static_cast<Source*>(user);
    std::array<char, 200> text{};
    if (s.fault.empty() && std::vsnprintf(text.data(), text.size(), format, values) > 0)
        s.fault = text.data();
    return 1;
}

int ignore(TIFF*, void*, const char*, const char*, va_list) {
    return 1;
}

using Handle = std::unique_ptr<TIFF, void (*)(TIFF*)>;

Handle open(Source& source) {
    const std::unique_ptr<TIFFOpenOptions, void (*)(TIFFOpenOptions*)> options(
        TIFFOpenOptionsAlloc(), TIFFOpenOptionsFree);
    if (!options) throw std::bad_alloc();
    TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), tmsize_t{1} << 30);
    TIFFOpenOptionsSetErrorHandlerExtR(options.get(), note_fault, &source);
    TIFFOpenOptionsSetWarningHandlerExtR(options.get(), ignore, nullptr);
    // "m": nothing is mapped.
    return {TIFFClientOpenExt("picture", "rm", &source, read_some, write_none, seek, close_none,
                              size_of, nullptr, nullptr, options.get()),
            TIFFClose};
}

[[noreturn]] void refuse_damaged(const Source& source) {
    throw UnreadablePicture("it is a TIFF file that cannot be read (" +
                            (source.fault.empty() ? "no reason" : source.fault) +
                            "); save it again");
}

[[noreturn]] void refuse(const std::string& found, const char* expected) {
    throw UnreadablePicture("it is a TIFF file of " + found + "; expected " + expected +
                            "; save it so");
}

/// What the tags say.
struct Layout {
    std::uint32_t width = 0, height = 0;
    std::uint16_t bits = 1, samples = 1, format = SAMPLEFORMAT_UINT, planar = PLANARCONFIG_CONTIG,
                  photometric = PHOTOMETRIC_MINISBLACK, compression = COMPRESSION_NONE,
                  orientation = ORIENTATION_TOPLEFT;
    std::uint32_t colours = 1;
    bool has_alpha = false, multiplied = false;

    bool is_float() const { return format == SAMPLEFORMAT_IEEEFP; }
    Channels channels() const {
        const bool coloured = colours == 3 || photometric == PHOTOMETRIC_PALETTE;
        if (coloured) return has_alpha ? Channels::rgba : Channels::rgb;
        return has_alpha ? Channels::grey_alpha : Channels::grey;
    }
};

const char* name_of_colours(std::uint16_t photometric) {
    switch (photometric) {
        case PHOTOMETRIC_MASK:
            return "a mask";
        case PHOTOMETRIC_SEPARATED:
            return "inks (CMYK)";
        case PHOTOMETRIC_YCBCR:
            return "YCbCr without JPEG";
        case PHOTOMETRIC_CIELAB:
        case PHOTOMETRIC_ICCLAB:
        case PHOTOMETRIC_ITULAB:
            return "CIE L*a*b* colours";
        case PHOTOMETRIC_LOGL:
        case PHOTOMETRIC_LOGLUV:
            return "logarithmic light";
        default:
            return "colours of an unknown kind";
    }
}

void check_numbers(const Layout& l) {
    const std::string bits = std::to_string(l.bits) + " bits";
    if (l.format != SAMPLEFORMAT_UINT && l.format != SAMPLEFORMAT_VOID && !l.is_float())
        refuse(l.format == SAMPLEFORMAT_INT ? "whole numbers with a sign" : "complex numbers",
               "numbers without a sign, or floats");
    if (l.is_float() && l.bits != 16 && l.bits != 32 && l.bits != 64)
        refuse("floats of " + bits, "16, 32 or 64");
    if (!l.is_float() && (l.bits < 1 || l.bits > 16) && l.bits != 32)
        refuse("numbers of " + bits, "1 to 16, or 32");
    if (l.photometric == PHOTOMETRIC_PALETTE && (l.bits > 8 || l.is_float()))
        refuse("a palette of " + bits, "1 to 8");
    constexpr std::uint16_t most_samples = 16;
    if (l.samples < l.colours || l.samples > most_samples)
        refuse(std::to_string(l.samples) + " channels", l.colours == 3 ? "3 to 16" : "1 to 16");
}

void find_colours(TIFF* tiff, Layout& l) {
    switch (l.photometric) {
        case PHOTOMETRIC_MINISWHITE:
        case PHOTOMETRIC_MINISBLACK:
        case PHOTOMETRIC_PALETTE:
            l.colours = 1;
            break;
        case PHOTOMETRIC_RGB:
            l.colours = 3;
            break;
        case PHOTOMETRIC_YCBCR:
            if (l.compression != COMPRESSION_JPEG)
                refuse(name_of_colours(l.photometric), "grey or RGB");
            TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
            l.colours = 3;
            break;
        default:
            refuse(name_of_colours(l.photometric), "grey, RGB or a palette");
    }
    std::uint16_t extra = 0;
    std::uint16_t* kinds = nullptr;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_EXTRASAMPLES, &extra, &kinds);
    if (extra == 0 || kinds == nullptr || l.samples <= l.colours) return;
    l.multiplied = kinds[0] == EXTRASAMPLE_ASSOCALPHA;
    l.has_alpha = l.multiplied || kinds[0] == EXTRASAMPLE_UNASSALPHA;
}

Layout layout_of(TIFF* tiff) {
    Layout l;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &l.width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &l.height);
    check_picture_size(l.width, l.height);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &l.bits);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &l.samples);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &l.format);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &l.planar);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_COMPRESSION, &l.compression);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_ORIENTATION, &l.orientation);
    if (TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &l.photometric) == 0)
        l.photometric = l.samples >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
    if (TIFFIsCODECConfigured(l.compression) == 0)
        refuse("packing " + std::to_string(l.compression), "LZW, Deflate, PackBits or none");
    find_colours(tiff, l);
    check_numbers(l);
    return l;
}

/// The numbers of one row of a strip or tile, as libtiff hands them over: in this machine's order,
/// those of less than 8 bits from the highest bit down.
class Row {
public:
    Row(const unsigned char* bytes, const Layout& layout) : bytes_(bytes), layout_(layout) {}

    double operator[](std::size_t i) const {
        if (layout_.is_float()) return floating(i);
        switch (layout_.bits) {
            case 8:
                return bytes_[i];
            case 16:
                return value<std::uint16_t>(i);
            case 32:
                return value<std::uint32_t>(i);
            default:
                return packed(i);
        }
    }

private:
    template <class T>
    T value(std::size_t i) const {
        T v;
        std::memcpy(&v, bytes_ + i * sizeof v, sizeof v);
        return v;
    }

    double floating(std::size_t i) const {
        if (layout_.bits == 64) return value<double>(i);
        if (layout_.bits == 32) return value<float>(i);
        return float_from_half(value<std::uint16_t>(i));
    }

    double packed(std::size_t i) const {
        std::uint32_t v = 0;
        for (std::size_t bit = i * layout_.bits; bit < (i + 1) * layout_.bits; ++bit)
            v = v << 1 | (bytes_[bit / 8] >> (7 - bit % 8) & 1U);
        return v;
    }

    const unsigned char* bytes_;
    const Layout& layout_;
};

/// What the rows become: codes at once, or floats of which all are needed first.
class Texels {
public:
    Texels(TIFF* tiff, const Layout& layout)
        : layout_(layout),
          count_(count_of(layout.channels())),
          most_(std::ldexp(1.0, layout.bits) - 1.0) {
        if (layout.is_float())
            floats_.resize(std::size_t{layout.width} * layout.height * count_);
        else
            picture_ = blank_picture(layout.width, layout.height, layout.channels());
        if (layout.photometric != PHOTOMETRIC_PALETTE) return;
        if (TIFFGetField(tiff, TIFFTAG_COLORMAP, &map_[0], &map_[1], &map_[2]) == 0)
            refuse("a palette that is missing", "one");
    }

    /// Whether a sample is one that is wanted.
    bool takes(std::uint32_t sample) const {
        return sample < layout_.colours + (layout_.has_alpha ? 1U : 0U);
    }

    void put(std::uint32_t x, std::uint32_t y, std::uint32_t sample, double value) {
        const std::size_t first = (std::size_t{y} * layout_.width + x) * count_;
        const bool is_alpha = sample >= layout_.colours;
        if (layout_.photometric == PHOTOMETRIC_PALETTE && !is_alpha) {
            for (std::size_t c = 0; c < 3; ++c)
                picture_.values[first + c] = map_[c][static_cast<std::size_t>(value)];
            return;
        }
        const std::size_t at = first + (is_alpha ? count_ - 1 : sample);
        const bool turned = layout_.photometric == PHOTOMETRIC_MINISWHITE && !is_alpha;
        if (layout_.is_float())
            floats_[at] = static_cast<float>(turned ? 1.0 - value : value);
        else
            picture_.values[at] = static_cast<std::uint16_t>(
                std::lround(65535.0 * (turned ? most_ - value : value) / most_));
    }

    PictureFile finished() {
        if (layout_.is_float())
            picture_ = picture_from_floats(
                {layout_.width, layout_.height, layout_.channels(), std::move(floats_)});
        if (layout_.multiplied) divide_by_alpha(picture_);
        return upright(std::move(picture_), layout_.orientation);
    }

private:
    const Layout& layout_;
    std::size_t count_;
    double most_;
    PictureFile picture_;  // unless there are floats
    std::vector<float> floats_;
    std::array<std::uint16_t*, 3> map_{};
};

/// A strip or a tile: where it begins, and how large it is.
struct Piece {
    std::uint32_t x, y, width, height;
};

void put_piece(const unsigned char* bytes, std::size_t row_bytes, const Piece& piece,
               std::uint32_t plane, const Layout& l, Texels& texels) {
    const bool apart = l.planar == PLANARCONFIG_SEPARATE;
    const std::uint32_t samples = apart ? 1 : l.samples;
    for (std::uint32_t j = 0; j < piece.height && piece.y + j < l.height; ++j) {
        const Row row(bytes + j * row_bytes, l);
        for (std::uint32_t i = 0; i < piece.width && piece.x + i < l.width; ++i)
            for (std::uint32_t s = 0; s < samples; ++s)
                if (const std::uint32_t sample = apart ? plane : s; texels.takes(sample))
                    texels.put(piece.x + i, piece.y + j, sample, row[std::size_t{i} * samples + s]);
    }
}

std::uint32_t plane_count(const Layout& l) {
    return l.planar == PLANARCONFIG_SEPARATE ? l.samples : 1;
}

/// Memory for one piece, whose rows must hold what the tags promise.
std::vector<unsigned char> piece_memory(tmsize_t size, tmsize_t row_bytes, std::uint32_t width,
                                        const Layout& l, const Source& source) {
    const std::uint64_t samples = l.planar == PLANARCONFIG_SEPARATE ? 1 : l.samples;
    const std::uint64_t needed = (std::uint64_t{width} * samples * l.bits + 7) / 8;
    if (size <= 0 || row_bytes <= 0 || static_cast<std::uint64_t>(row_bytes) < needed)
        refuse_damaged(source);
    // A tag can claim any number of samples; what a picture is made of are eight bytes of four.
    constexpr std::uint64_t most = 32 * most_picture_texels;
    if (static_cast<std::uint64_t>(size) > std::min(most, import_limit_bytes()))
        throw UnreadablePicture("one strip or tile of it takes " +
                                std::to_string(static_cast<std::uint64_t>(size) >> 20) +
                                " MiB; expected smaller ones; save it again");
    return std::vector<unsigned char>(static_cast<std::size_t>(size));
}

void read_strips(TIFF* tiff, const Layout& l, const Source& source, Texels& texels) {
    std::uint32_t rows = l.height;
    TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
    rows = std::clamp<std::uint32_t>(rows, 1, l.height);
    const tmsize_t row_bytes = TIFFScanlineSize(tiff);
    auto memory = piece_memory(TIFFStripSize(tiff), row_bytes, l.width, l, source);
    for (std::uint32_t plane = 0; plane < plane_count(l); ++plane)
        for (std::uint32_t y = 0; y < l.height; y += rows) {
            const Piece piece{0, y, l.width, std::min(rows, l.height - y)};
            const tmsize_t wanted = row_bytes * static_cast<tmsize_t>(piece.height);
            const std::uint32_t strip =
                TIFFComputeStrip(tiff, y, static_cast<std::uint16_t>(plane));
            if (wanted > static_cast<tmsize_t>(memory.size()) ||
                TIFFReadEncodedStrip(tiff, strip, memory.data(), wanted) < wanted)
                refuse_damaged(source);
            put_piece(memory.data(), static_cast<std::size_t>(row_bytes), piece, plane, l, texels);
        }
}

void read_tiles(TIFF* tiff, const Layout& l, const Source& source, Texels& texels) {
    std::uint32_t width = 0, height = 0;
    TIFFGetField(tiff, TIFFTAG_TILEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_TILELENGTH, &height);
    check_picture_size(width, height);
    const tmsize_t row_bytes = TIFFTileRowSize(tiff);
    auto memory = piece_memory(TIFFTileSize(tiff), row_bytes, width, l, source);
    const auto wanted = static_cast<tmsize_t>(memory.size());
    if (row_bytes * static_cast<tmsize_t>(height) > wanted) refuse_damaged(source);
    for (std::uint32_t plane = 0; plane < plane_count(l); ++plane)
        for (std::uint32_t y = 0; y < l.height; y += height)
            for (std::uint32_t x = 0; x < l.width; x += width) {
                const std::uint32_t tile =
                    TIFFComputeTile(tiff, x, y, 0, static_cast<std::uint16_t>(plane));
                if (TIFFReadEncodedTile(tiff, tile, memory.data(), wanted) < wanted)
                    refuse_damaged(source);
                put_piece(memory.data(), static_cast<std::size_t>(row_bytes), {x, y, width, height},
                          plane, l, texels);
            }
}

}  // namespace

PictureFile read_tiff_picture(PictureBytes bytes) {
    Source source{bytes, 0, {}};
    const Handle tiff = open(source);
    if (!tiff) refuse_damaged(source);
    const Layout layout = layout_of(tiff.get());
    Texels texels(tiff.get(), layout);
    if (TIFFIsTiled(tiff.get()) != 0)
        read_tiles(tiff.get(), layout, source, texels);
    else
        read_strips(tiff.get(), layout, source, texels);
    return texels.finished();
}

}  // namespace rakelight
