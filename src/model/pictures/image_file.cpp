#include "model/pictures/image_file.hpp"

#include <array>
#include <string_view>

#include "model/import_bytes.hpp"
#include "model/pictures/picture_formats.hpp"
#include "model/pictures/picture_texels.hpp"

namespace rakelight {
namespace {

// First bytes of formats, from their published descriptions.
struct Signature {
    std::string_view bytes;
    std::size_t at;
    const char* name;
    PictureFile (*read)(PictureBytes);               // null: met with models, and not read
    PictureSize (*size_of)(PictureBytes) = nullptr;  // null: its head alone does not tell
};

// Where the layouts that picture_dds.cpp and picture_ktx.cpp describe have them.
PictureSize dds_size(PictureBytes head) {
    return {number_at(head, 16), number_at(head, 12)};
}
PictureSize ktx1_size(PictureBytes head) {
    const bool big_endian = number_at(head, 12) != 0x04030201;
    return {number_at(head, 36, big_endian), number_at(head, 40, big_endian)};
}
PictureSize ktx2_size(PictureBytes head) {
    return {number_at(head, 20), number_at(head, 24)};
}

constexpr std::array<Signature, 14> signatures{
    {{{"DDS ", 4}, 0, "DDS", read_dds_picture, dds_size},
     {{"\xABKTX 20\xBB\r\n\x1A\n", 12}, 0, "KTX 2", read_ktx2_picture, ktx2_size},
     {{"\xABKTX 11\xBB\r\n\x1A\n", 12}, 0, "KTX", read_ktx1_picture, ktx1_size},
     {{"WEBP", 4}, 8, "WebP", read_webp_picture, webp_picture_size},
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

const Signature* signature_of(PictureBytes bytes) {
    return signature_of({reinterpret_cast<const char*>(bytes.data()), bytes.size()});
}

bool is_read(std::uint64_t width, std::uint64_t height) {
    return width > 0 && height > 0 && width <= most_picture_side && height <= most_picture_side &&
           width * height <= most_picture_texels;
}

void check_room(std::uint64_t width, std::uint64_t height) {
    const std::uint64_t bytes = width * height * bytes_per_texel, limit = import_limit_bytes();
    if (bytes <= limit) return;
    throw NoRoomForPicture("its " + std::to_string(width) + " x " + std::to_string(height) +
                           " pixels take about " + std::to_string(bytes >> 20) +
                           " MiB to read; expected at most " + std::to_string(limit >> 20) +
                           " MiB (--memory, --import-memory-mib); save it smaller, or allow more");
}

}  // namespace

void check_picture_size(std::uint64_t width, std::uint64_t height) {
    if (is_read(width, height)) return check_room(width, height);
    throw UnreadablePicture("it claims " + std::to_string(width) + " x " + std::to_string(height) +
                            " pixels; expected 1 to " + std::to_string(most_picture_side) +
                            " a side and at most " + std::to_string(most_picture_texels >> 20) +
                            " Mi in all; save it smaller");
}

std::uint64_t claimed_texels(std::span<const unsigned char> head) {
    const Signature* signature = signature_of(head);
    if (signature != nullptr && signature->size_of == nullptr) return 0;
    try {
        const PictureSize size =
            signature != nullptr ? signature->size_of(head) : common_picture_size(head);
        return is_read(size.width, size.height) ? std::uint64_t{size.width} * size.height : 0;
    } catch (const UnreadablePicture&) {
        return 0;  // cut short
    }
}

PictureFile read_picture(std::span<const unsigned char> bytes) {
    constexpr std::size_t most_bytes = std::size_t{1} << 30;
    if (bytes.size() > most_bytes) throw UnreadablePicture("it has more than 1 GiB");
    const Signature* signature = signature_of(bytes);
    if (signature == nullptr) return read_common_picture(bytes);
    if (signature->read != nullptr) return signature->read(bytes);
    throw UnreadablePicture(std::string("it is a ") + signature->name +
                            " file, which is not read; save it as PNG");
}

}  // namespace rakelight
