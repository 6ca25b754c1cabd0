#pragma once
// From physical values to 16-bit codes and back. Each encoding states its range, the formula both
// ways and the worst error of reading a code back. All arithmetic is double; rounding is half away
// from zero (as std::lround), so that it is the same everywhere. The encoders stand in the header
// because they run for every pixel of every pass.

#include <cassert>
#include <cstdint>

namespace rakelight {

/// Rounds half up without a library call; exact for 0 <= x < 2^31: x less its whole part has no
/// rounding error, which x + 0.5 can have.
inline std::uint32_t round_half_up(double x) {
    const auto whole = static_cast<std::int32_t>(x);
    const auto up = static_cast<std::int32_t>(x - whole >= 0.5);
    return static_cast<std::uint32_t>(whole + up);
}

/// Shares in [0, 1] (occlusion, silhouette, contour, masks).
/// code = round(65535 v), v = code / 65535; worst error 1/131070. v outside [0, 1] is clamped and
/// `clipped` is raised by one; NaN counts as clipped and becomes 0.
inline std::uint16_t encode_share(double v, std::uint64_t& clipped) {
    if (v >= 0.0 && v <= 1.0) return static_cast<std::uint16_t>(round_half_up(65535.0 * v));
    ++clipped;
    return v > 1.0 ? 65535 : 0;
}
double decode_share(std::uint16_t code);

/// Depth. Near is bright: code = round(65535 (f + (1-n-f) (far - z)/(far - near))), and back
/// z = far - (code/65535 - f) (far - near)/(1-n-f); worst error half of mm_per_code.
///
/// A subject of no depth (near = far: a flat plate that faces the viewer) lies wholly at the near
/// end: z = near has the code round(65535 (1-n)), every code reads back as near, mm_per_code is 0,
/// and any other z gets the same code and counts as clipped.
struct DepthEncoding {
    double near_mm = 0.0;       ///< z of the nearest visible point, away from the viewer positive
    double far_mm = 1.0;        ///< z of the farthest visible point, not less than near_mm
    double near_margin = 0.01;  ///< n, share of the codes kept free at the bright end
    double far_margin = 0.01;   ///< f, share of the codes kept free at the dark end; n + f < 1

    /// z to code; outside the code range it is clamped and `clipped` raised. A subject pixel never
    /// gets code 0 or 65535: z that would becomes 1 or 65534 and is counted as clipped too, unless
    /// the margin on that side is 0, where these codes are far_mm and near_mm themselves.
    /// NaN counts as clipped and becomes the lowest code of the subject.
    std::uint16_t encode(double z_mm, std::uint64_t& clipped) const;
    double decode(std::uint16_t code) const;
    double mm_per_code() const;     ///< (far - near) / (65535 (1-n-f))
    double worst_error_mm() const;  ///< half of mm_per_code
};

inline std::uint16_t DepthEncoding::encode(double z_mm, std::uint64_t& clipped) const {
    assert(near_mm <= far_mm && near_margin >= 0.0 && far_margin >= 0.0);
    assert(near_margin + far_margin < 1.0);
    const double used = 1.0 - near_margin - far_margin;
    double height = 1.0;  // over the far end, as a share of the depth
    if (near_mm < far_mm) {
        height = (far_mm - z_mm) / (far_mm - near_mm);
    } else if (z_mm != near_mm) {
        ++clipped;
        z_mm = near_mm;
    }
    const double exact = 65535.0 * (far_margin + used * height);
    const std::uint16_t lowest = far_margin > 0.0 ? 1 : 0;
    const std::uint16_t highest = near_margin > 0.0 ? 65534 : 65535;
    // Half a code beyond is still rounded back; the upper bound is open because halves round up.
    if (exact >= lowest - 0.5 && exact < highest + 0.5) {
        return static_cast<std::uint16_t>(exact < 0.0 ? 0U : round_half_up(exact));
    }
    ++clipped;
    return exact > highest ? highest : lowest;
}

/// Signed values scaled by a largest magnitude (curvature).
/// code = 32768 + round(32767 h / h_max), h = (code - 32768) h_max / 32767; worst error
/// h_max / 65534. |h| > h_max is clamped and counted; NaN counts as clipped and becomes 32768.
/// Codes 1 to 65535 are used. A picture without curvature (h_max = 0) is 32768 throughout.
struct SignedEncoding {
    double h_max = 1.0;  ///< >= 0
    std::uint16_t encode(double h, std::uint64_t& clipped) const;
    double decode(std::uint16_t code) const;
    double worst_error() const;
};

inline std::uint16_t SignedEncoding::encode(double h, std::uint64_t& clipped) const {
    assert(h_max >= 0.0);
    const double size = h < 0.0 ? -h : h;
    std::uint32_t steps = 32767;
    if (size <= h_max) {
        steps = h_max > 0.0 ? round_half_up(32767.0 * size / h_max) : 0U;
    } else {
        ++clipped;
        if (size != size || h_max == 0.0) steps = 0;
    }
    return static_cast<std::uint16_t>(h < 0.0 ? 32768U - steps : 32768U + steps);
}

/// Lengths from nothing up to a largest (undercut).
/// code = round(65535 v / most), v = code most / 65535; worst error most / 131070. v outside
/// [0, most] is clamped and counted; NaN counts as clipped and becomes 0. With most = 0 every code
/// is 0.
struct LengthEncoding {
    double most_mm = 0.0;  ///< >= 0
    std::uint16_t encode(double mm, std::uint64_t& clipped) const {
        if (most_mm > 0.0) return encode_share(mm / most_mm, clipped);
        if (!(mm == 0.0)) ++clipped;
        return 0;
    }
    double decode(std::uint16_t code) const { return code * most_mm / 65535.0; }
    double worst_error_mm() const { return most_mm / 131070.0; }
};

/// One component of a unit normal in [-1, 1]: code = round(65535 (v+1)/2),
/// v = 2 code/65535 - 1; worst error 1/65535. A component beyond the range, which only the
/// rounding of a unit vector can make, is clamped; NaN is read as 0.
inline std::uint16_t encode_normal_component(double v) {
    if (v >= -1.0 && v <= 1.0) {
        return static_cast<std::uint16_t>(round_half_up(65535.0 * ((v + 1.0) / 2.0)));
    }
    if (v > 1.0) return 65535;
    return v < -1.0 ? 0 : 32768;
}
double decode_normal_component(std::uint16_t code);

}  // namespace rakelight
