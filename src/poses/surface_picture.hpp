#pragma once
// Private to poses/: what a page needs of a piece to light it anew, as a picture of bytes.

#include <cstddef>

#include "image/area_reduction.hpp"
#include "image/png8.hpp"

namespace rakelight {

struct SurfacePoint {
    float normal_x = 0.0F, normal_y = 0.0F;  ///< of the piece, 0 outside
    float open = 1.0F;                       ///< share
    float piece = 0.0F;                      ///< share
    float height = 0.0F;                     ///< a share of the peak
};

/// PoseTile::surface() says what the codes are.
class SurfacePicture {
public:
    explicit SurfacePicture(PixelSize size);
    void put(std::size_t pixel, const SurfacePoint& point);
    const Image8& image() const { return image_; }

private:
    std::size_t pixels_;
    Image8 image_;
};

}  // namespace rakelight
