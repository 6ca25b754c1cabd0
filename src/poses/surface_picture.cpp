#include "poses/surface_picture.hpp"

#include <algorithm>
#include <cstdint>

namespace rakelight {
namespace {

std::uint8_t share_byte(float share) {
    return static_cast<std::uint8_t>(std::clamp(255.0F * share + 0.5F, 0.0F, 255.0F));
}

std::uint8_t signed_byte(float v) {
    return static_cast<std::uint8_t>(128.5F + 127.0F * std::clamp(v, -1.0F, 1.0F));
}

}  // namespace

SurfacePicture::SurfacePicture(PixelSize size)
    : pixels_(static_cast<std::size_t>(size.width) * size.height),
      image_(size.width, 5 * size.height, 1) {}

void SurfacePicture::put(std::size_t pixel, const SurfacePoint& point) {
    std::uint8_t* to = image_.codes.data() + pixel;
    to[0] = signed_byte(point.normal_x);
    to[pixels_] = signed_byte(point.normal_y);
    to[2 * pixels_] = share_byte(point.open);
    to[3 * pixels_] = share_byte(point.piece);
    to[4 * pixels_] = share_byte(point.height);
}

}  // namespace rakelight
