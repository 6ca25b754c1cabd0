#include "image/gif.hpp"

#include <gif_lib.h>

#include <array>
#include <cassert>
#include <memory>
#include <new>

#include "image/palette.hpp"

namespace rakelight {
namespace {

// Only memory can be wanting.
void need(int done) {
    if (done != GIF_OK) throw std::bad_alloc();
}

int keep(GifFileType* file, const GifByteType* bytes, int count) {
    auto& kept = *static_cast<std::vector<std::byte>*>(file->UserData);
    const auto* from = reinterpret_cast<const std::byte*>(bytes);
    try {
        kept.insert(kept.end(), from, from + count);
    } catch (const std::bad_alloc&) {
        return 0;  // the library is C: it is told, and tells us
    }
    return count;
}

struct Closing {
    void operator()(GifFileType* file) const { EGifCloseFile(file, nullptr); }
};
struct Freeing {
    void operator()(ColorMapObject* map) const { GifFreeMapObject(map); }
};

std::unique_ptr<ColorMapObject, Freeing> map_of(const Palette& palette) {
    std::array<GifColorType, 256> colours{};
    for (std::size_t i = 0; i < palette.colours().size(); ++i) {
        const Colour& colour = palette.colours()[i];
        colours[i] = {colour[0], colour[1], colour[2]};
    }
    std::unique_ptr<ColorMapObject, Freeing> map(GifMakeMapObject(256, colours.data()));
    if (!map) throw std::bad_alloc();
    return map;
}

/// "NETSCAPE2.0", the extension that all readers take: 1, then how often, 0 for ever.
void put_loop(GifFileType* file) {
    constexpr std::array<GifByteType, 3> for_ever{1, 0, 0};
    need(EGifPutExtensionLeader(file, APPLICATION_EXT_FUNC_CODE));
    need(EGifPutExtensionBlock(file, 11, "NETSCAPE2.0"));
    need(EGifPutExtensionBlock(file, static_cast<int>(for_ever.size()), for_ever.data()));
    need(EGifPutExtensionTrailer(file));
}

void put_picture(GifFileType* file, const Image8& picture, const Palette& palette, int each_cs) {
    const GraphicsControlBlock control{DISPOSE_DO_NOT, false, each_cs, NO_TRANSPARENT_COLOR};
    std::array<GifByteType, 4> bytes{};
    const std::size_t count = EGifGCBToExtension(&control, bytes.data());
    need(EGifPutExtension(file, GRAPHICS_EXT_FUNC_CODE, static_cast<int>(count), bytes.data()));
    need(EGifPutImageDesc(file, 0, 0, picture.width, picture.height, false, nullptr));
    std::vector<std::uint8_t> places = palette.indices(picture);
    need(EGifPutLine(file, places.data(), static_cast<int>(places.size())));
}

}  // namespace

std::vector<std::byte> encode_gif(std::span<const Image8> pictures, int each_cs) {
    assert(!pictures.empty() && each_cs >= 2);
    const Palette palette(pictures);
    const auto map = map_of(palette);
    std::vector<std::byte> bytes;
    int fault = 0;
    std::unique_ptr<GifFileType, Closing> file(EGifOpen(&bytes, keep, &fault));
    if (!file) throw std::bad_alloc();
    EGifSetGifVersion(file.get(), true);
    need(EGifPutScreenDesc(file.get(), pictures[0].width, pictures[0].height, 8, 0, map.get()));
    put_loop(file.get());
    for (const Image8& picture : pictures) {
        assert(picture.width == pictures[0].width && picture.height == pictures[0].height);
        put_picture(file.get(), picture, palette, each_cs);
    }
    need(EGifCloseFile(file.release(), &fault));
    return bytes;
}

}  // namespace rakelight
