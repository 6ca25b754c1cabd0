#include "relief/blur.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <vector>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

/// Half a kernel: [0] is the middle, both sides together sum to 1.
std::vector<float> half_kernel(double sigma_px) {
    const int reach = std::max(1, static_cast<int>(std::ceil(4.0 * sigma_px)));
    std::vector<double> half(static_cast<std::size_t>(reach) + 1);
    double sum = 0.0;
    for (int i = 0; i <= reach; ++i) {
        const double value = std::exp(-0.5 * i * i / (sigma_px * sigma_px));
        half[static_cast<std::size_t>(i)] = value;
        sum += i == 0 ? value : 2.0 * value;
    }
    std::vector<float> kernel;
    for (const double value : half) kernel.push_back(static_cast<float>(value / sum));
    return kernel;
}

/// to[x] += weight * from[x + offset], of those that are inside.
void add_shifted(std::vector<float>& to, const float* from, int offset, float weight) {
    const int width = static_cast<int>(to.size());
    const int first = std::max(0, -offset), end = std::min(width, width - offset);
    for (int x = first; x < end; ++x) to[static_cast<std::size_t>(x)] += weight * from[x + offset];
}

/// Along the rows, then along the columns; nothing lies outside.
Plane convolved(const Plane& image, const std::vector<float>& kernel) {
    const int reach = static_cast<int>(kernel.size()) - 1;
    Plane along(image.width, image.height), result(image.width, image.height);
    for_row_bands(image.height, [&](int first, int end) {
        std::vector<float> sums(static_cast<std::size_t>(image.width));
        for (int y = first; y < end; ++y) {
            std::fill(sums.begin(), sums.end(), 0.0F);
            const float* row = &image.values[static_cast<std::size_t>(y) * image.width];
            for (int k = -reach; k <= reach; ++k)
                add_shifted(sums, row, k, kernel[static_cast<std::size_t>(std::abs(k))]);
            std::copy(sums.begin(), sums.end(), &along.at(0, y));
        }
    });
    for_row_bands(image.height, [&](int first, int end) {
        std::vector<float> sums(static_cast<std::size_t>(image.width));
        for (int y = first; y < end; ++y) {
            std::fill(sums.begin(), sums.end(), 0.0F);
            for (int k = std::max(-reach, -y); k <= std::min(reach, image.height - 1 - y); ++k)
                add_shifted(sums, &along.values[static_cast<std::size_t>(y + k) * image.width], 0,
                            kernel[static_cast<std::size_t>(std::abs(k))]);
            std::copy(sums.begin(), sums.end(), &result.at(0, y));
        }
    });
    return result;
}

/// The mean of squares of side x side pixels, as a whole square's share: what is cut off by the
/// image's edge counts as 0.
Plane reduced(const Plane& image, int side) {
    Plane small((image.width + side - 1) / side, (image.height + side - 1) / side);
    const float share = 1.0F / (static_cast<float>(side) * static_cast<float>(side));
    for_row_bands(small.height, 4, [&](int first, int end) {
        for (int y = first * side; y < std::min(end * side, image.height); ++y) {
            float* to = &small.values[static_cast<std::size_t>(y / side) * small.width];
            for (int x = 0; x < image.width; ++x) to[x / side] += share * image.at(x, y);
        }
    });
    return small;
}

/// Where a pixel lies between those of a smaller image: at (1 - part) of `before` and part of the
/// next.
struct Between {
    int before, after;
    float part;
};

Between between(int pixel, int side, int count) {
    const float place = (static_cast<float>(pixel) + 0.5F) / static_cast<float>(side) - 0.5F;
    const float low = std::floor(place);
    const int before = static_cast<int>(low);
    return {std::clamp(before, 0, count - 1), std::clamp(before + 1, 0, count - 1), place - low};
}

float at_place(const Plane& small, const Between& x, const Between& y) {
    const float upper = small.at(x.before, y.before) +
                        x.part * (small.at(x.after, y.before) - small.at(x.before, y.before));
    const float lower = small.at(x.before, y.after) +
                        x.part * (small.at(x.after, y.after) - small.at(x.before, y.after));
    return upper + y.part * (lower - upper);
}

/// image = sums / weights, where there is any weight.
void divide(const Plane& sums, const Plane& weights, int side, Plane& image) {
    std::vector<Between> columns;
    for (int x = 0; x < image.width; ++x) columns.push_back(between(x, side, sums.width));
    for_row_bands(image.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const Between row = between(y, side, sums.height);
            for (int x = 0; x < image.width; ++x) {
                const Between& column = columns[static_cast<std::size_t>(x)];
                const float weight = at_place(weights, column, row);
                if (weight > 1e-6F) image.at(x, y) = at_place(sums, column, row) / weight;
            }
        }
    });
}

}  // namespace

void blur(Plane& image, const Plane& share, double sigma_px) {
    assert(share.values.size() == image.values.size());
    if (sigma_px < 0.1 || image.values.empty()) return;
    Plane weighted = image;
    for (std::size_t i = 0; i < weighted.values.size(); ++i) weighted.values[i] *= share.values[i];
    constexpr double fine_px = 5.0;  // sigma of the smaller image, at least
    // A Gaussian this wide is level over the whole image, to 0.002.
    const int longer = std::max(image.width, image.height);
    sigma_px = std::min(sigma_px, 16.0 * longer);
    const int side = std::clamp(static_cast<int>(sigma_px / fine_px), 1, longer);
    // Variances: a square's own, and that of the triangle which enlarging lays over each pixel.
    const double square = static_cast<double>(side) * side;
    const double own = side == 1 ? 0.0 : (square - 1.0) / 12.0 + square / 6.0;
    const std::vector<float> kernel = half_kernel(std::sqrt(sigma_px * sigma_px - own) / side);
    const Plane sums = convolved(reduced(weighted, side), kernel);
    const Plane weights = convolved(reduced(share, side), kernel);
    divide(sums, weights, side, image);
}

}  // namespace rakelight
