#pragma once
// Values as they are: a TIFF of 32-bit floats.

#include <cstddef>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

/// The bytes of a TIFF 6.0 file: one channel, SampleFormat 3 (IEEE floating point), little-endian,
/// strips packed by deflate with the floating-point predictor (TIFF Technical Note 3, Adobe
/// 2005), black is zero, resolution in pixels per cm. Same input, same bytes.
/// @param values  at least one pixel; at most 4 GiB
/// Throws Error(not_written) when it cannot be made.
std::vector<std::byte> encode_float_tiff(const Plane& values, double px_per_mm);

}  // namespace rakelight
