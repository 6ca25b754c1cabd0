#include "relief/height_normals.hpp"

#include <algorithm>
#include <cmath>

#include "image/row_bands.hpp"

namespace rakelight {

HeightNormals normals_of(const Plane& height_mm, double px_per_mm) {
    const int width = height_mm.width, height = height_mm.height;
    HeightNormals normals{Plane(width, height), Plane(width, height), Plane(width, height)};
    const auto px = static_cast<float>(px_per_mm);
    for_row_bands(height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const int above = std::max(y - 1, 0), below = std::min(y + 1, height - 1);
            for (int x = 0; x < width; ++x) {
                const int left = std::max(x - 1, 0), right = std::min(x + 1, width - 1);
                const auto slope = [px](float rise, int pixels) {
                    return pixels > 0 ? rise * px / static_cast<float>(pixels) : 0.0F;
                };
                const float across =
                    slope(height_mm.at(right, y) - height_mm.at(left, y), right - left);
                const float up =
                    slope(height_mm.at(x, above) - height_mm.at(x, below), below - above);
                const float length = std::sqrt(across * across + up * up + 1.0F);
                normals.x.at(x, y) = -across / length;
                normals.y.at(x, y) = -up / length;
                normals.z.at(x, y) = 1.0F / length;
            }
        }
    });
    return normals;
}

}  // namespace rakelight
