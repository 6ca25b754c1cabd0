#include <algorithm>
#include <memory>

#include "model/pictures/jpeg_tables.hpp"
#include "model/pictures/picture_formats.hpp"

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

[[noreturn]] void refuse() {
    const char* reason = stbi_failure_reason();
    throw UnreadablePicture("it cannot be read (" + std::string(reason ? reason : "no reason") +
                            "); expected PNG, JPEG, TGA, BMP, PSD, GIF, TIFF, WebP, OpenEXR, DDS "
                            "or KTX; save it again");
}

}  // namespace

PictureSize common_picture_size(PictureBytes head) {
    if (has_overfull_jpeg_table(head)) return {};  // which the library reads on its way to the size
    int width = 0, height = 0, channels = 0;
    const int size = static_cast<int>(head.size());
    if (stbi_info_from_memory(head.data(), size, &width, &height, &channels) == 0) return {};
    return {static_cast<std::uint32_t>(std::max(width, 0)),
            static_cast<std::uint32_t>(std::max(height, 0))};
}

PictureFile read_common_picture(PictureBytes bytes) {
    if (has_overfull_jpeg_table(bytes)) {
        throw UnreadablePicture(
            "it is a JPEG with a table of more codes than there are values; "
            "expected a sound file; save it again");
    }
    const int size = static_cast<int>(bytes.size());
    int width = 0, height = 0, channels = 0;
    if (stbi_info_from_memory(bytes.data(), size, &width, &height, &channels) == 0) refuse();
    check_picture_size(static_cast<std::uint64_t>(std::max(width, 0)),
                       static_cast<std::uint64_t>(std::max(height, 0)));
    const std::unique_ptr<stbi_us, void (*)(void*)> values(
        stbi_load_16_from_memory(bytes.data(), size, &width, &height, &channels, 0),
        stbi_image_free);
    if (!values) refuse();
    PictureFile picture;
    picture.width = static_cast<std::uint32_t>(width);
    picture.height = static_cast<std::uint32_t>(height);
    picture.channels = static_cast<std::uint32_t>(channels);
    const std::size_t count = std::size_t{picture.width} * picture.height * picture.channels;
    picture.values.assign(values.get(), values.get() + count);
    return picture;
}

}  // namespace rakelight
