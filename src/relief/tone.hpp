#pragma once
// Values of an image moved along its range: levels, curves, and what an image uses of the range.

#include <array>
#include <cstdint>
#include <vector>

#include "image/plane.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// How many values lay beyond the ends and were set to them.
struct Clipped {
    std::uint64_t below = 0;
    std::uint64_t above = 0;
    std::uint64_t of = 0;  ///< pixels that count
};

/// @param used  which pixels count; the size of `image`. Others are changed too, but not counted.
Clipped apply_levels(Plane& image, const Levels& levels, const Plane& used);

/// A smooth curve through points that never overshoots them: between two it is a cubic whose slopes
/// are those of Fritsch and Butland 1984 ("A Method for Constructing Local Monotone Piecewise Cubic
/// Interpolants", SIAM J. Sci. Stat. Comput. 5(2), with weights for uneven points); beyond the ends
/// it is level.
class ToneCurve {
public:
    /// @param points  x and y, x rising, at least two
    explicit ToneCurve(std::vector<std::array<double, 2>> points);
    double operator()(double x) const;

private:
    std::vector<std::array<double, 2>> points_;
    std::vector<double> slopes_;
};

void apply_curve(Plane& image, const ToneCurve& curve);

/// How the values of the pixels that count lie between 0 and 1.
class Histogram {
public:
    static constexpr int bins = 4096;
    /// @param image  values beyond 0..1 count as the ends
    /// @param used   pixels with more than 0.5 count; the size of `image`
    Histogram(const Plane& image, const Plane& used);

    std::uint64_t count() const { return count_; }
    /// The value below which this share of the pixels lies, to a bin (1/4096). 0 when none counts.
    double at_share(double share) const;
    /// The share of the pixels in each of so many equal parts of the range.
    std::vector<double> shares(int parts) const;
    /// Share of the range between the values at 0.5 % and 99.5 %.
    double used_range() const { return at_share(0.995) - at_share(0.005); }

private:
    std::vector<std::uint64_t> counts_;
    std::uint64_t count_ = 0;
};

}  // namespace rakelight
