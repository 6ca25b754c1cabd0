#include "model/pictures/image_file.hpp"

#include <array>
#include <string_view>

#include "model/pictures/picture_formats.hpp"

namespace rakelight {
namespace {

// First bytes of formats, from their published descriptions.
struct Signature {
    std::string_view bytes;
    std::size_t at;
    const char* name;
    PictureFile (*read)(PictureBytes);  // null: met with models, and not read
};
constexpr std::array<Signature, 14> signatures{
    {{{"DDS ", 4}, 0, "DDS", read_dds_picture},
     {{"\xABKTX 20\xBB\r\n\x1A\n", 12}, 0, "KTX 2", read_ktx2_picture},
     {{"\xABKTX 11\xBB\r\n\x1A\n", 12}, 0, "KTX", read_ktx1_picture},
     {{"WEBP", 4}, 8, "WebP", read_webp_picture},
     {{"II*\0", 4}, 0, "TIFF", read_tiff_picture},
     {{"MM\0*", 4}, 0, "TIFF", read_tiff_picture},
     {{"II+\0", 4}, 0, "BigTIFF", read_tiff_picture},
     {{"MM\0+", 4}, 0, "BigTIFF", read_tiff_picture},
     {{"v/1\x01", 4}, 0, "OpenEXR", read_exr_picture},
     {{"#?RADIANCE", 10}, 0, "Radiance HDR", nullptr},
     {{"ftypavif", 8}, 4, "AVIF", nullptr},
     {{"ftypheic", 8}, 4, "HEIC", nullptr},
     {{"JXL \r\n", 6}, 4, "JPEG XL", nullptr},
     {{"jP  \r\n", 6}, 4, "JPEG 2000", nullptr}}};

const Signature* signature_of(std::string_view bytes) {
    for (const Signature& s : signatures)
        if (bytes.size() >= s.at && bytes.substr(s.at, s.bytes.size()) == s.bytes) return &s;
    return nullptr;
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
    const Signature* signature =
        signature_of({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
    if (signature == nullptr) return read_common_picture(bytes);
    if (signature->read != nullptr) return signature->read(bytes);
    throw UnreadablePicture(std::string("it is a ") + signature->name +
                            " file, which is not read; save it as PNG");
}

}  // namespace rakelight
