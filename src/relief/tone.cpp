#include "relief/tone.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

/// Zero where the curve turns, else a weighted harmonic mean of the slopes on both sides.
double inner_slope(double left, double right, double left_width, double right_width) {
    if (left * right <= 0.0) return 0.0;
    const double a = 2.0 * right_width + left_width, b = right_width + 2.0 * left_width;
    return (a + b) / (a / left + b / right);
}

}  // namespace

Clipped apply_levels(Plane& image, const Levels& levels, const Plane& used) {
    assert(levels.white != levels.black && levels.gamma > 0.0);
    assert(used.values.size() == image.values.size());
    const auto black = static_cast<float>(levels.black);
    const auto scale = static_cast<float>(1.0 / (levels.white - levels.black));
    const auto power = static_cast<float>(1.0 / levels.gamma);
    std::vector<Clipped> rows(static_cast<std::size_t>(image.height));
    for_row_bands(image.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            Clipped& clipped = rows[static_cast<std::size_t>(y)];
            for (int x = 0; x < image.width; ++x) {
                const float t = (image.at(x, y) - black) * scale;
                if (used.at(x, y) > 0.5F) {
                    ++clipped.of;
                    clipped.below += t < 0.0F;
                    clipped.above += t > 1.0F;
                }
                const float kept = std::clamp(t, 0.0F, 1.0F);
                image.at(x, y) = power == 1.0F ? kept : std::pow(kept, power);
            }
        }
    });
    Clipped all;
    for (const Clipped& row : rows) {
        all.below += row.below;
        all.above += row.above;
        all.of += row.of;
    }
    return all;
}

ToneCurve::ToneCurve(std::vector<std::array<double, 2>> points)
    : points_(std::move(points)), slopes_(points_.size(), 0.0) {
    assert(points_.size() >= 2);
    const auto width = [&](std::size_t i) { return points_[i + 1][0] - points_[i][0]; };
    const auto slope = [&](std::size_t i) {
        return (points_[i + 1][1] - points_[i][1]) / width(i);
    };
    const std::size_t last = points_.size() - 1;
    slopes_.front() = slope(0);
    slopes_.back() = slope(last - 1);
    for (std::size_t i = 1; i < last; ++i)
        slopes_[i] = inner_slope(slope(i - 1), slope(i), width(i - 1), width(i));
}

double ToneCurve::operator()(double x) const {
    if (x <= points_.front()[0]) return points_.front()[1];
    if (x >= points_.back()[0]) return points_.back()[1];
    const auto after = std::upper_bound(points_.begin(), points_.end(), x,
                                        [](double v, const auto& point) { return v < point[0]; });
    const auto i = static_cast<std::size_t>(after - points_.begin()) - 1;
    const double h = points_[i + 1][0] - points_[i][0];
    const double t = (x - points_[i][0]) / h, u = 1.0 - t;
    return u * u * (1.0 + 2.0 * t) * points_[i][1] + t * t * (1.0 + 2.0 * u) * points_[i + 1][1] +
           h * t * u * (u * slopes_[i] - t * slopes_[i + 1]);
}

void apply_curve(Plane& image, const ToneCurve& curve) {
    for_row_bands(image.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < image.width; ++x)
                image.at(x, y) = static_cast<float>(curve(image.at(x, y)));
        }
    });
}

Histogram::Histogram(const Plane& image, const Plane& used) : counts_(bins, 0) {
    assert(used.values.size() == image.values.size());
    for (std::size_t i = 0; i < image.values.size(); ++i) {
        if (used.values[i] <= 0.5F) continue;
        const float place = std::clamp(image.values[i], 0.0F, 1.0F) * bins;
        ++counts_[static_cast<std::size_t>(std::min(place, bins - 1.0F))];
        ++count_;
    }
}

double Histogram::at_share(double share) const {
    if (count_ == 0) return 0.0;
    const double wanted = share * static_cast<double>(count_);
    double before = 0.0;
    for (int bin = 0; bin < bins; ++bin) {
        const auto here = static_cast<double>(counts_[static_cast<std::size_t>(bin)]);
        if (here > 0.0 && before + here >= wanted)
            return (bin + std::clamp((wanted - before) / here, 0.0, 1.0)) / bins;
        before += here;
    }
    return 1.0;
}

std::vector<double> Histogram::shares(int parts) const {
    std::vector<double> shares(static_cast<std::size_t>(parts));
    for (std::size_t bin = 0; bin < counts_.size(); ++bin)
        shares[bin * shares.size() / counts_.size()] += static_cast<double>(counts_[bin]);
    for (double& share : shares) share /= static_cast<double>(std::max<std::uint64_t>(count_, 1));
    return shares;
}

}  // namespace rakelight
