#include "image/float_tiff.hpp"

#include <tiffio.h>

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <memory>

#include "error.hpp"

namespace rakelight {
namespace {

/// A file in memory that the library writes to and reads back from.
struct MemoryFile {
    std::vector<std::byte> bytes;
    std::size_t at = 0;

    static MemoryFile& of(thandle_t handle) { return *static_cast<MemoryFile*>(handle); }

    static tmsize_t read(thandle_t handle, void* to, tmsize_t size) {
        MemoryFile& file = of(handle);
        const std::size_t left = file.bytes.size() - std::min(file.at, file.bytes.size());
        const std::size_t count = std::min(left, static_cast<std::size_t>(size));
        if (count > 0) std::memcpy(to, file.bytes.data() + file.at, count);
        file.at += count;
        return static_cast<tmsize_t>(count);
    }
    static tmsize_t write(thandle_t handle, void* from, tmsize_t size) {
        MemoryFile& file = of(handle);
        const auto count = static_cast<std::size_t>(size);
        if (file.bytes.size() < file.at + count) file.bytes.resize(file.at + count);
        std::memcpy(file.bytes.data() + file.at, from, count);
        file.at += count;
        return size;
    }
    static toff_t seek(thandle_t handle, toff_t offset, int from) {
        MemoryFile& file = of(handle);
        if (from == SEEK_CUR) offset += file.at;
        if (from == SEEK_END) offset += file.bytes.size();
        file.at = static_cast<std::size_t>(offset);
        return offset;
    }
    static int close(thandle_t) { return 0; }
    static toff_t size(thandle_t handle) { return of(handle).bytes.size(); }
};

constexpr std::uint32_t rows_per_strip = 64;

void describe(TIFF* tiff, const Plane& values, double px_per_mm) {
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(values.width));
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(values.height));
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 32);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
    TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_IEEEFP);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_MINISBLACK);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
    TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_FLOATINGPOINT);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, rows_per_strip);
    TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_CENTIMETER);
    TIFFSetField(tiff, TIFFTAG_XRESOLUTION, 10.0 * px_per_mm);
    TIFFSetField(tiff, TIFFTAG_YRESOLUTION, 10.0 * px_per_mm);
}

}  // namespace

std::vector<std::byte> encode_float_tiff(const Plane& values, double px_per_mm) {
    MemoryFile file;
    const auto refuse = [] {
        throw Error(ExitCode::not_written, "a TIFF of heights could not be made in memory");
    };
    std::unique_ptr<TIFF, void (*)(TIFF*)> tiff(
        TIFFClientOpen("heights", "wl", &file, MemoryFile::read, MemoryFile::write,
                       MemoryFile::seek, MemoryFile::close, MemoryFile::size, nullptr, nullptr),
        TIFFClose);
    if (!tiff) refuse();
    describe(tiff.get(), values, px_per_mm);
    std::vector<float> row(static_cast<std::size_t>(values.width));
    for (int y = 0; y < values.height; ++y) {
        // The predictor works on the row in place.
        std::copy_n(&values.values[static_cast<std::size_t>(y) * row.size()], row.size(),
                    row.begin());
        if (TIFFWriteScanline(tiff.get(), row.data(), static_cast<std::uint32_t>(y), 0) < 0)
            refuse();
    }
    if (TIFFFlush(tiff.get()) == 0) refuse();
    tiff.reset();
    return std::move(file.bytes);
}

}  // namespace rakelight
