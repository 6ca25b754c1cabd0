#include "struck/patina.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

#include "image/pixels.hpp"
#include "relief/blur.hpp"
#include "struck/horizon.hpp"

namespace rakelight {
namespace {

constexpr int directions = 16;
constexpr float bare_when_closed = 0.05F;
constexpr float dark_when_closed = 0.4F;  // more than that
constexpr double bare_when_higher = 0.3;  // of the recess's size

/// The surface's own rise in one direction, of the two sides of a pixel the lesser: then neither
/// the foot nor the top of a wall counts as a part of it.
class OwnRise {
public:
    OwnRise(const Plane& height_mm, double px_per_mm, double direction_deg)
        : height_mm_(height_mm),
          x_(static_cast<float>(std::cos(direction_deg * std::numbers::pi / 180.0) * px_per_mm)),
          y_(static_cast<float>(-std::sin(direction_deg * std::numbers::pi / 180.0) * px_per_mm)) {}

    float at(int x, int y) const {
        const float here = height_mm_.at(x, y);
        const int left = std::max(x - 1, 0), right = std::min(x + 1, height_mm_.width - 1);
        const int above = std::max(y - 1, 0), below = std::min(y + 1, height_mm_.height - 1);
        return std::min(x_ * (height_mm_.at(right, y) - here),
                        x_ * (here - height_mm_.at(left, y))) +
               std::min(y_ * (height_mm_.at(x, below) - here),
                        y_ * (here - height_mm_.at(x, above)));
    }

private:
    const Plane& height_mm_;
    float x_, y_;  ///< the direction, times px to the mm
};

}  // namespace

Plane closed_sky(const Plane& height_mm, double px_per_mm) {
    Plane closed(height_mm.width, height_mm.height);
    for (int i = 0; i < directions; ++i) {
        // Half a step off the axes, so that no direction runs along the pixels.
        const double direction_deg = (i + 0.5) * 360.0 / directions;
        const Plane ahead = steepest_ahead(height_mm, px_per_mm, direction_deg);
        const OwnRise own(height_mm, px_per_mm, direction_deg);
        for_row_bands(closed.height, [&](int first, int end) {
            for (int y = first; y < end; ++y) {
                for (int x = 0; x < closed.width; ++x) {
                    const float up = ahead.at(x, y);
                    if (up <= 0.0F) continue;
                    const float from = std::max(0.0F, own.at(x, y));
                    const float over = std::max(0.0F, up - from);
                    closed.at(x, y) += over * over / ((1.0F + up * up) * (1.0F + from * from)) /
                                       static_cast<float>(directions);
                }
            }
        });
    }
    return closed;
}

Plane stain_left(const StainedSurface& surface, const Plane& closed) {
    assert(closed.values.size() == surface.height_mm.values.size());
    Plane stain = surface.height_mm;
    blur(stain, surface.share, surface.recess_mm * surface.px_per_mm);
    const auto least_mm = static_cast<float>(bare_when_higher * surface.recess_mm);
    for_pixels(stain, [&](std::size_t i) {
        const float below_mm = stain.values[i] - surface.height_mm.values[i];
        const float closed_by = (closed.values[i] - bare_when_closed) / dark_when_closed;
        // What stands out is polished soon; what lies deep is not darker than dark.
        const float lower =
            below_mm > 0.0F ? below_mm / (below_mm + least_mm) : below_mm / least_mm;
        const float t = std::clamp(closed_by + lower, 0.0F, 1.0F);
        stain.values[i] = t * t * (3.0F - 2.0F * t);
    });
    return stain;
}

}  // namespace rakelight
