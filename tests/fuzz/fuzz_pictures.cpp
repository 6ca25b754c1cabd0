// Pictures: those of a model, and the PNGs that `gallery` reads back, whose chunks' checksums are
// made right. Chosen when this is compiled.

#include <zlib.h>

#include <new>
#include <span>

#include "fuzz_input.hpp"
#if defined(RAKELIGHT_FUZZ_PNG8)
#include "image/png8.hpp"
#else
#include "model/pictures/image_file.hpp"
#endif

using namespace rakelight;

namespace {

std::uint32_t big(const std::string& bytes, std::size_t at) {
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value << 8 | static_cast<unsigned char>(bytes[at + i]);
    return value;
}

/// PNG specification, 5.3: length, type, data and the checksum of the latter two.
[[maybe_unused]] void mend_checksums(std::string& png) {
    for (std::size_t at = 8; at + 12 <= png.size();) {
        const std::uint32_t length = big(png, at);
        if (length > png.size() - at - 12) return;
        const auto sum =
            ::crc32(0, reinterpret_cast<const Bytef*>(png.data() + at + 4), length + 4);
        for (std::size_t i = 0; i < 4; ++i)
            png[at + 8 + length + i] = static_cast<char>(sum >> (24 - 8 * i));
        at += 12 + std::size_t{length};
    }
}

#if defined(RAKELIGHT_FUZZ_PNG8)

// Small ones alone: a claim of thousands of pixels would be believed until the data ends.
void check(const std::string& bytes) {
    try {
        const Image8 image = decode_png8(std::as_bytes(std::span(bytes)), 64);
        fuzz::require(image.codes.size() == std::size_t(image.width) * std::size_t(image.height) *
                                                std::size_t(image.channels),
                      "a code for every pixel");
    } catch (const UnreadablePng& error) {
        fuzz::require(error.what()[0] != '\0', "a reason");
    }
}

#else

void check(const std::string& bytes) {
    try {
        const PictureFile picture =
            read_picture({reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size()});
        fuzz::require(picture.channels >= 1 && picture.channels <= 4, "1 to 4 channels");
        fuzz::require(
            picture.values.size() == std::size_t{picture.width} * picture.height * picture.channels,
            "a value for every pixel");
    } catch (const UnreadablePicture& error) {
        fuzz::require(error.what()[0] != '\0', "a reason");
    }
}

#endif

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    std::string bytes(fuzz::text_of(data, size));
    if (bytes.starts_with("\x89PNG")) mend_checksums(bytes);
    check(bytes);
    return 0;
}
