#pragma once
// Loops over the pixels of a plane on all cores.

#include <cstddef>

#include "image/plane.hpp"
#include "image/row_bands.hpp"

namespace rakelight {

/// Calls work(i) for each pixel's index; it writes only what belongs to that pixel.
template <typename Work>
void for_pixels(const Plane& plane, const Work& work) {
    const auto width = static_cast<std::size_t>(plane.width);
    for_row_bands(plane.height, [&](int first, int end) {
        const std::size_t last = static_cast<std::size_t>(end) * width;
        for (std::size_t i = static_cast<std::size_t>(first) * width; i < last; ++i) work(i);
    });
}

/// The same where the subject is.
template <typename Work>
void for_subject(const Plane& coverage, const Work& work) {
    for_pixels(coverage, [&](std::size_t i) {
        if (coverage.values[i] > 0.0F) work(i);
    });
}

}  // namespace rakelight
