#pragma once
// From physical values to 16-bit codes and back. Each encoding states its range, the formula both
// ways and the worst error of reading a code back. All arithmetic is double; rounding is half away
// from zero (std::lround), so that it is the same everywhere.

#include <cstdint>

namespace rakelight {

/// Shares in [0, 1] (occlusion, silhouette, contour, masks).
/// code = round(65535 v), v = code / 65535; worst error 1/131070. v outside [0, 1] is clamped and
/// `clipped` is raised by one; NaN counts as clipped and becomes 0.
std::uint16_t encode_share(double v, std::uint64_t& clipped);
double decode_share(std::uint16_t code);

/// Depth. Near is bright: code = round(65535 (f + (1-n-f) (far - z)/(far - near))).
struct DepthEncoding {
    double near_mm = 0.0;      ///< z of the nearest visible point, away from the viewer positive
    double far_mm = 1.0;       ///< z of the farthest visible point
    double near_margin = 0.01;
    double far_margin = 0.01;

    /// z to code; outside the code range it is clamped and `clipped` raised. A subject pixel never
    /// gets code 0 or 65535: z that would is counted as clipped too, unless margins are 0.
    std::uint16_t encode(double z_mm, std::uint64_t& clipped) const;
    double decode(std::uint16_t code) const;
    double mm_per_code() const;        ///< (far - near) / (65535 (1-n-f))
    double worst_error_mm() const;     ///< half of mm_per_code
};

/// Signed values scaled by a largest magnitude (curvature).
/// code = 32768 + round(32767 h / h_max), h = (code - 32768) h_max / 32767; worst error
/// h_max / 65534. |h| > h_max is clamped and counted.
struct SignedEncoding {
    double h_max = 1.0;  ///< > 0
    std::uint16_t encode(double h, std::uint64_t& clipped) const;
    double decode(std::uint16_t code) const;
    double worst_error() const;
};

/// One component of a unit normal in [-1, 1]: code = round(65535 (v+1)/2); worst error 1/65535.
std::uint16_t encode_normal_component(double v);
double decode_normal_component(std::uint16_t code);

}  // namespace rakelight
