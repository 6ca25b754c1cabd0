#include <webp/decode.h>

#include "model/pictures/picture_texels.hpp"

namespace rakelight {
namespace {

void check(VP8StatusCode status) {
    if (status == VP8_STATUS_OK) return;
    if (status == VP8_STATUS_OUT_OF_MEMORY) throw std::bad_alloc();
    const bool is_short = status == VP8_STATUS_NOT_ENOUGH_DATA || status == VP8_STATUS_SUSPENDED;
    throw UnreadablePicture(is_short ? "it is a WebP file that is cut short; fetch it again"
                                     : "it is a WebP file that is damaged; save it again");
}

}  // namespace

PictureSize webp_picture_size(PictureBytes head) {
    int width = 0, height = 0;
    if (WebPGetInfo(head.data(), head.size(), &width, &height) == 0) return {};
    return {static_cast<std::uint32_t>(width), static_cast<std::uint32_t>(height)};
}

PictureFile read_webp_picture(PictureBytes bytes) {
    WebPDecoderConfig config;
    if (WebPInitDecoderConfig(&config) == 0)
        throw UnreadablePicture("the WebP library is not the one that this program was built with");
    check(WebPGetFeatures(bytes.data(), bytes.size(), &config.input));
    if (config.input.has_animation != 0)
        throw UnreadablePicture("it is an animation; expected one picture; save it as PNG");
    const bool alpha = config.input.has_alpha != 0;
    const auto width = static_cast<std::uint64_t>(config.input.width);
    const auto height = static_cast<std::uint64_t>(config.input.height);
    check_picture_size(width, height);
    const TexelForm form{Sample::unorm8, alpha ? Channels::rgba : Channels::rgb, false, false};
    const std::uint64_t row = width * bytes_of(form);
    std::vector<unsigned char> texels(row * height);
    config.output.colorspace = alpha ? MODE_RGBA : MODE_RGB;
    config.output.is_external_memory = 1;
    config.output.u.RGBA.rgba = texels.data();
    config.output.u.RGBA.stride = static_cast<int>(row);
    config.output.u.RGBA.size = texels.size();
    check(WebPDecode(bytes.data(), bytes.size(), &config));
    return picture_from_texels(form, width, height, texels, row);
}

}  // namespace rakelight
