#pragma once
// A soft copy of an image that does not look beyond the pixels that count.

#include "image/plane.hpp"

namespace rakelight {

/// A Gaussian blur in which each pixel weighs by its share (normalised convolution, Knutsson and
/// Westin 1993): at an edge of what counts the image neither darkens nor takes in what lies beyond.
/// The kernel is cut off at 4 sigma (6e-5 of it lies beyond) and normalised. Above 10 pixels the
/// image is made smaller first, blurred, and enlarged linearly, whose own widths are taken off
/// sigma: of a step's height the result is then 0.003 off at the most.
/// @param image     changed in place; stays as it is where nothing that counts is within reach
/// @param share     weight of each pixel, 0..1; the size of `image`
/// @param sigma_px  > 0; below 0.1 nothing happens
void blur(Plane& image, const Plane& share, double sigma_px);

}  // namespace rakelight
