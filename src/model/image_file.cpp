#include "model/image_file.hpp"

#include <algorithm>
#include <array>
#include <memory>
#include <string_view>

#include "model/jpeg_tables.hpp"

// Compiled in here, without what opens files by itself and without formats that hold light.
#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
#define STBI_NO_STDIO
#define STBI_NO_HDR
#define STBI_NO_PIC
#define STBI_NO_PNM  // whose 16 bits it leaves in the wrong order
#define STBI_MAX_DIMENSIONS 16384
#include <stb_image.h>

namespace rakelight {
namespace {

// First bytes of formats that are met with models and not read: their published descriptions.
struct Signature {
    std::string_view bytes;
    std::size_t at;
    const char* name;
};
constexpr std::array<Signature, 9> not_read{{{{"DDS ", 4}, 0, "DDS"},
                                             {{"\xABKTX 20", 7}, 0, "KTX 2"},
                                             {{"\xABKTX 11", 7}, 0, "KTX"},
                                             {{"WEBP", 4}, 8, "WebP"},
                                             {{"II*\0", 4}, 0, "TIFF"},
                                             {{"MM\0*", 4}, 0, "TIFF"},
                                             {{"v/1\x01", 4}, 0, "OpenEXR"},
                                             {{"#?RADIANCE", 10}, 0, "Radiance HDR"},
                                             {{"ftypavif", 8}, 4, "AVIF"}}};

void refuse_known_formats(std::string_view bytes) {
    for (const Signature& s : not_read) {
        if (bytes.size() < s.at || bytes.substr(s.at, s.bytes.size()) != s.bytes) continue;
        throw UnreadablePicture(std::string("it is a ") + s.name +
                                " file, which is not read; save it as PNG");
    }
}

[[noreturn]] void refuse() {
    const char* reason = stbi_failure_reason();
    throw UnreadablePicture("it cannot be read (" + std::string(reason ? reason : "no reason") +
                            "); expected PNG, JPEG, TGA, BMP, PSD or GIF; save it again");
}

}  // namespace

void check_picture_size(std::uint64_t width, std::uint64_t height) {
    if (width > 0 && height > 0 && width <= most_picture_side && height <= most_picture_side &&
        width * height <= most_picture_texels)
        return;
    throw UnreadablePicture("it claims " + std::to_string(width) + " x " + std::to_string(height) +
                            " pixels; expected 1 to " + std::to_string(most_picture_side) +
                            " a side and at most " + std::to_string(most_picture_texels >> 20) +
                            " Mi in all; save it smaller");
}

PictureFile read_picture(std::span<const unsigned char> bytes) {
    constexpr std::size_t most_bytes = std::size_t{1} << 30;
    if (bytes.size() > most_bytes) throw UnreadablePicture("it has more than 1 GiB");
    refuse_known_formats({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
    if (has_overfull_jpeg_table(bytes))
        throw UnreadablePicture(
            "it is a JPEG with a table of more codes than there are values; "
            "expected a sound file; save it again");
    const int size = static_cast<int>(bytes.size());
    int width = 0, height = 0, channels = 0;
    if (stbi_info_from_memory(bytes.data(), size, &width, &height, &channels) == 0) refuse();
    check_picture_size(static_cast<std::uint64_t>(std::max(width, 0)),
                       static_cast<std::uint64_t>(std::max(height, 0)));
    const std::unique_ptr<stbi_us, void (*)(void*)> values(
        stbi_load_16_from_memory(bytes.data(), size, &width, &height, &channels, 0),
        stbi_image_free);
    if (!values) refuse();
    PictureFile picture{static_cast<std::uint32_t>(width),
                        static_cast<std::uint32_t>(height),
                        static_cast<std::uint32_t>(channels),
                        {}};
    const std::size_t count = std::size_t{picture.width} * picture.height * picture.channels;
    picture.values.assign(values.get(), values.get() + count);
    return picture;
}

}  // namespace rakelight
