// Khronos textures: the KTX File Format Specifications, versions 1 and 2.0, with the numbers of
// OpenGL's and Vulkan's registries.

#include <libdeflate.h>
#include <zstd.h>

#include <memory>

#include "model/pictures/picture_stored.hpp"

namespace rakelight {
namespace {

std::string_view text_of(PictureBytes bytes) {
    return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

/// The value of a key, without the zero that ends it; empty when there is none.
std::string value_of(PictureBytes pairs, std::string_view key, bool big_endian) {
    std::uint64_t at = 0;
    while (at + 4 <= pairs.size()) {
        const std::uint64_t size = number_at(pairs, at, big_endian);
        const std::string_view pair = text_of(part_of(pairs, at + 4, size));
        if (pair.size() > key.size() && pair.starts_with(key) && pair[key.size()] == '\0') {
            const std::string_view value = pair.substr(key.size() + 1);
            return std::string(value.substr(0, value.find('\0')));
        }
        at += 4 + (size + 3) / 4 * 4;
    }
    return {};
}

PictureFile oriented(PictureFile picture, bool from_right, bool from_bottom) {
    const unsigned orientation = from_bottom ? (from_right ? 3 : 4) : (from_right ? 2 : 1);
    return upright(std::move(picture), orientation);
}

// ---- version 1

Sample sample_of_gl(std::uint32_t type) {
    switch (type) {
        case 0x1401:
            return Sample::unorm8;
        case 0x1400:
            return Sample::snorm8;
        case 0x1403:
            return Sample::unorm16;
        case 0x1402:
            return Sample::snorm16;
        case 0x140B:
        case 0x8D61:
            return Sample::half_float;
        case 0x1406:
            return Sample::single_float;
        default:
            refuse_stored("KTX", "OpenGL type " + std::to_string(type));
    }
}

StoredForm form_of_gl(std::uint32_t type, std::uint32_t format) {
    const Sample sample = sample_of_gl(type);
    switch (format) {
        case 0x1903:
        case 0x1906:
        case 0x1909:
            return stored(sample, Channels::grey);
        case 0x190A:
            return stored(sample, Channels::grey_alpha);
        case 0x8227:
            return stored(sample, Channels::red_green);
        case 0x1907:
            return stored(sample, Channels::rgb);
        case 0x80E0:
            return stored(sample, Channels::rgb, true);
        case 0x1908:
            return stored(sample, Channels::rgba);
        case 0x80E1:
            return stored(sample, Channels::rgba, true);
        default:
            refuse_stored("KTX", "OpenGL format " + std::to_string(format));
    }
}

/// Of textures that are compressed, whose type is 0.
StoredForm form_of_internal(std::uint32_t format) {
    switch (format) {
        case 0x83F0:
        case 0x83F1:
        case 0x8C4C:
        case 0x8C4D:
            return stored(BlockForm::bc1);
        case 0x83F2:
        case 0x8C4E:
            return stored(BlockForm::bc2);
        case 0x83F3:
        case 0x8C4F:
            return stored(BlockForm::bc3);
        case 0x8DBB:
            return stored(BlockForm::bc4);
        case 0x8DBC:
            return stored(BlockForm::bc4_signed);
        case 0x8DBD:
            return stored(BlockForm::bc5);
        case 0x8DBE:
            return stored(BlockForm::bc5_signed);
        case 0x8E8C:
        case 0x8E8D:
            return stored(BlockForm::bc7);
        case 0x8E8E:
            return stored(BlockForm::bc6h_signed);
        case 0x8E8F:
            return stored(BlockForm::bc6h);
        default:
            break;
    }
    if (format == 0x8D64 || (format >= 0x9270 && format <= 0x9279))
        refuse_stored("KTX", "ETC blocks");
    // Flat blocks, and those of volumes.
    const std::uint32_t group = format >> 4;
    if (group == 0x93B || group == 0x93D)
        if (const auto astc = astc_form(format & 15, group == 0x93D)) return {.astc = astc};
    if (group == 0x93C || group == 0x93E) refuse_stored("KTX", "ASTC blocks of a volume");
    refuse_stored("KTX", "OpenGL internal format " + std::to_string(format));
}

// ---- version 2

StoredForm form_of_vulkan(std::uint32_t format) {
    using enum Sample;
    using enum Channels;
    switch (format) {
        case 9:
        case 15:
            return stored(unorm8, grey);
        case 10:
            return stored(snorm8, grey);
        case 16:
        case 22:
            return stored(unorm8, red_green);
        case 17:
            return stored(snorm8, red_green);
        case 23:
        case 29:
            return stored(unorm8, rgb);
        case 24:
            return stored(snorm8, rgb);
        case 30:
        case 36:
            return stored(unorm8, rgb, true);
        case 37:
        case 43:
            return stored(unorm8, rgba);
        case 38:
            return stored(snorm8, rgba);
        case 44:
        case 50:
            return stored(unorm8, rgba, true);
        case 70:
            return stored(unorm16, grey);
        case 71:
            return stored(snorm16, grey);
        case 76:
            return stored(half_float, grey);
        case 77:
            return stored(unorm16, red_green);
        case 78:
            return stored(snorm16, red_green);
        case 83:
            return stored(half_float, red_green);
        case 84:
            return stored(unorm16, rgb);
        case 85:
            return stored(snorm16, rgb);
        case 90:
            return stored(half_float, rgb);
        case 91:
            return stored(unorm16, rgba);
        case 92:
            return stored(snorm16, rgba);
        case 97:
            return stored(half_float, rgba);
        case 100:
            return stored(single_float, grey);
        case 103:
            return stored(single_float, red_green);
        case 106:
            return stored(single_float, rgb);
        case 109:
            return stored(single_float, rgba);
        case 131:
        case 132:
        case 133:
        case 134:
            return stored(BlockForm::bc1);
        case 135:
        case 136:
            return stored(BlockForm::bc2);
        case 137:
        case 138:
            return stored(BlockForm::bc3);
        case 139:
            return stored(BlockForm::bc4);
        case 140:
            return stored(BlockForm::bc4_signed);
        case 141:
            return stored(BlockForm::bc5);
        case 142:
            return stored(BlockForm::bc5_signed);
        case 143:
            return stored(BlockForm::bc6h);
        case 144:
            return stored(BlockForm::bc6h_signed);
        case 145:
        case 146:
            return stored(BlockForm::bc7);
        default:
            break;
    }
    if (format >= 147 && format <= 156) refuse_stored("KTX 2", "ETC blocks");
    // For each size the linear one and the one of sRGB.
    if (format >= 157 && format <= 184)
        return {.astc = astc_form((format - 157) / 2, (format - 157) % 2 == 1)};
    // Numbers of extensions: VK_EXT_texture_compression_astc_hdr and _3d.
    if (format >= 1000066000 && format <= 1000066013)
        refuse_stored("KTX 2", "ASTC blocks beyond 0 to 1 (HDR)");
    if (format >= 1000288000 && format <= 1000288029)
        refuse_stored("KTX 2", "ASTC blocks of a volume");
    refuse_stored("KTX 2", "Vulkan format " + std::to_string(format));
}

void refuse_basis(std::uint32_t format, std::uint32_t packing) {
    if (format != 0 && packing != 1) return;
    throw UnreadablePicture(
        "it is a KTX 2 file of Basis Universal texels, which are not read; unpack it to PNG and "
        "name that in the model");
}

/// @param size  that the texels must have
std::vector<unsigned char> unpacked(PictureBytes packed, std::uint32_t packing,
                                    std::uint64_t size) {
    std::vector<unsigned char> texels(size);
    std::size_t count = 0;
    bool fine = false;
    if (packing == 2) {
        count = ZSTD_decompress(texels.data(), texels.size(), packed.data(), packed.size());
        fine = ZSTD_isError(count) == 0;
    } else {
        const std::unique_ptr<libdeflate_decompressor, void (*)(libdeflate_decompressor*)> tool(
            libdeflate_alloc_decompressor(), libdeflate_free_decompressor);
        if (!tool) throw std::bad_alloc();
        fine = libdeflate_zlib_decompress(tool.get(), packed.data(), packed.size(), texels.data(),
                                          texels.size(), &count) == LIBDEFLATE_SUCCESS;
    }
    if (fine && count == size) return texels;
    throw UnreadablePicture("its packed texels are damaged; expected " + std::to_string(size) +
                            " bytes of them; fetch it again");
}

/// Two channels are a direction unless the file says that the second is an alpha.
StoredForm with_swizzle(StoredForm form, const std::string& swizzle) {
    if (swizzle.empty()) return form;
    if (swizzle == "rrrg" && !form.is_compressed() && form.texels.channels == Channels::red_green) {
        form.texels.channels = Channels::grey_alpha;
        return form;
    }
    // What the other formats give by themselves.
    for (const char* plain : {"rgba", "rgb1", "rg01", "r001", "rrr1"})
        if (swizzle == plain) return form;
    refuse_stored("KTX 2", "channels in the order \"" + swizzle.substr(0, 8) + "\"");
}

}  // namespace

PictureFile read_ktx1_picture(PictureBytes bytes) {
    constexpr std::uint64_t header = 64;
    part_of(bytes, 0, header);
    const std::uint32_t order = number_at(bytes, 12);
    if (order != 0x04030201 && order != 0x01020304)
        throw UnreadablePicture("its KTX header has no known byte order; save it again");
    const bool big = order == 0x01020304;
    const auto at = [&](std::uint64_t offset) { return number_at(bytes, offset, big); };
    const std::uint32_t type = at(16), width = at(36), height = at(40), pairs = at(60);
    check_picture_size(width, height);
    check_one_layer("KTX", at(44), at(48), at(52));
    StoredForm form = type == 0 ? form_of_internal(at(28)) : form_of_gl(type, at(24));
    form.texels.big_endian = big;
    const std::string turn = value_of(part_of(bytes, header, pairs), "KTXorientation", big);
    const std::uint64_t size = level_bytes(form, width, height, 4);
    const std::uint64_t first = header + pairs + 4;  // behind the level's own count of bytes
    PictureFile picture = picture_from_stored(form, width, height, part_of(bytes, first, size), 4);
    picture = with_x_from_alpha(form, std::move(picture));
    return oriented(std::move(picture), turn.find("S=l") != std::string::npos,
                    turn.find("T=u") != std::string::npos);
}

PictureFile read_ktx2_picture(PictureBytes bytes) {
    constexpr std::uint64_t header = 80;
    part_of(bytes, 0, header + 24);
    const auto at = [&](std::uint64_t offset) { return number_at(bytes, offset); };
    const auto wide_at = [&](std::uint64_t offset) {
        return at(offset) | std::uint64_t{at(offset + 4)} << 32;
    };
    const std::uint32_t width = at(20), height = at(24), packing = at(44);
    check_picture_size(width, height);
    check_one_layer("KTX 2", at(28), at(32), at(36));
    refuse_basis(at(12), packing);
    if (packing != 0 && packing != 2 && packing != 3)
        refuse_stored("KTX 2", "packing " + std::to_string(packing));
    const PictureBytes pairs = part_of(bytes, at(56), at(60));
    const StoredForm form =
        with_swizzle(form_of_vulkan(at(12)), value_of(pairs, "KTXswizzle", false));
    const std::uint64_t size = level_bytes(form, width, height, 1);
    const PictureBytes level = part_of(bytes, wide_at(header), wide_at(header + 8));
    PictureFile picture;
    if (packing == 0) {
        picture = picture_from_stored(form, width, height, level, 1);
    } else {
        picture = picture_from_stored(form, width, height, unpacked(level, packing, size), 1);
    }
    picture = with_x_from_alpha(form, std::move(picture));
    const std::string turn = value_of(pairs, "KTXorientation", false);
    return oriented(std::move(picture), turn.starts_with('l'), turn.size() > 1 && turn[1] == 'u');
}

}  // namespace rakelight
