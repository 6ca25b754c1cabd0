#pragma once
// Private to relief/: from where to where the subject's heights reach.

#include <algorithm>
#include <cstddef>
#include <limits>

#include "image/plane.hpp"

namespace rakelight {

struct HeightRange {
    float low = std::numeric_limits<float>::max();
    float high = std::numeric_limits<float>::lowest();

    float size() const { return high > low ? high - low : 0.0F; }
    /// Whether what there is of height is rounding: less than a hundred-thousandth of the picture,
    /// which is below a micron on any blank of 100 mm.
    bool is_level(const Plane& picture, double px_per_mm) const {
        return size() * px_per_mm <= 1e-5 * std::max(picture.width, picture.height);
    }
};

/// Where the subject is.
inline HeightRange range_of(const Plane& values, const Plane& coverage) {
    HeightRange range;
    for (std::size_t i = 0; i < values.values.size(); ++i) {
        if (coverage.values[i] <= 0.0F) continue;
        range.low = std::min(range.low, values.values[i]);
        range.high = std::max(range.high, values.values[i]);
    }
    return range;
}

}  // namespace rakelight
