#pragma once
// The curvature pass on the processor: what shaders/curvature.frag and smooth.frag do, for machines
// whose OpenGL driver is software; see occlusion_processor.hpp.
//
// Mean curvature is fitted to each pixel's eight neighbours, then averaged under a Gaussian, first
// along rows, then along columns; neither looks across a depth step.

#include <cstdint>
#include <vector>

#include "render/work_area.hpp"

namespace rakelight {

/// Weights of a Gaussian at 0, 1, 2 ... px; the first is 1. At most 1024 of them: what the uniform
/// block of smooth.frag holds.
/// @param scale_px    standard deviation, > 0
/// @param deviations  out to so many of them
std::vector<float> half_gaussian(double scale_px, double deviations = 3.0);

/// One run of the mean along rows and along columns: over every stride-th pixel.
struct SmoothingLevel {
    int stride_px = 1;
    std::vector<float> weights;  ///< at 0, 1, 2 ... strides, as half_gaussian gives them
};

/// The Gaussian of a scale as a few runs whose variances add up to its own, so that the cost grows
/// with the scale's logarithm. A run takes every fourth pixel of what the run before it left: that
/// is smooth by then to 0.65 strides, where a Gaussian holds less than a thousandth of what those
/// samples could mistake. One run up to 8 px; none where the scale is less than a pixel can show.
std::vector<SmoothingLevel> smoothing_levels(double scale_px);

/// How far curvature looks, px: all runs together, and the fit.
int curvature_reach_px(double scale_px);

/// Mean curvature of every pixel of the maps, 1/mm, in their order; 0 where nothing is and at mixed
/// pixels. The same as the shaders' but for rounding: both work in single precision.
/// @param scale_mm  standard deviation of the Gaussian on the blank, > 0
/// @param mixed     as mixed_pixels gives it
std::vector<float> curvature_on_processor(double scale_mm, const Camera& camera,
                                          const ImageGrid& grid, const WorkArea& area,
                                          const SurfaceMaps& maps,
                                          const std::vector<std::uint8_t>& mixed);

}  // namespace rakelight
