#include "relief/spread.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "image/pixels.hpp"
#include "relief/height_range.hpp"

namespace rakelight {
namespace {

constexpr double curvature_share = 0.99;  ///< of the subject's pixels that 0..1 holds

/// The magnitude that so large a share of the subject's pixels does not exceed.
float usual_magnitude(const Plane& values, const Plane& coverage) {
    std::vector<float> magnitudes;
    for (std::size_t i = 0; i < values.values.size(); ++i)
        if (coverage.values[i] > 0.0F) magnitudes.push_back(std::abs(values.values[i]));
    if (magnitudes.empty()) return 0.0F;
    const auto at =
        static_cast<std::ptrdiff_t>(curvature_share * static_cast<double>(magnitudes.size() - 1));
    std::nth_element(magnitudes.begin(), magnitudes.begin() + at, magnitudes.end());
    return magnitudes[static_cast<std::size_t>(at)];
}

}  // namespace

Plane spread_over_range(const Plane& height_mm, const Plane& counts, double px_per_mm) {
    const HeightRange range = range_of(height_mm, counts);
    Plane depth(counts.width, counts.height);
    if (range.is_level(depth, px_per_mm)) return depth;
    for_subject(counts, [&](std::size_t i) {
        depth.values[i] = (height_mm.values[i] - range.low) / range.size();
    });
    return depth;
}

Plane spread_depth(const ReliefPlanes& planes, double px_per_mm) {
    return spread_over_range(planes.height_mm, planes.coverage, px_per_mm);
}

Plane spread_curvature(const ReliefPlanes& planes) {
    const float largest = usual_magnitude(planes.curvature, planes.coverage);
    Plane result(planes.coverage.width, planes.coverage.height, 0.5F);
    if (largest <= 0.0F) return result;
    for_subject(planes.coverage, [&](std::size_t i) {
        result.values[i] =
            std::clamp(0.5F + 0.5F * planes.curvature.values[i] / largest, 0.0F, 1.0F);
    });
    return result;
}

Plane spread_undercut(const ReliefPlanes& planes) {
    Plane result = planes.undercut_mm;
    const float widest = *std::max_element(result.values.begin(), result.values.end());
    if (widest <= 0.0F) return result;
    for (float& v : result.values) v /= widest;
    return result;
}

}  // namespace rakelight
