#pragma once
// 256 colours for a picture of many.

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "image/png8.hpp"

namespace rakelight {

using Colour = std::array<std::uint8_t, 3>;

/// Up to 256 colours that stand for all others in a few pictures, and which one for each.
class Palette {
public:
    /// Boxes of colours are cut in two, the one with the largest sum of squared distances first,
    /// across the direction in which it is longest (Orchard and Bouman 1991, "Color Quantization of
    /// Images"); then each colour goes to its nearest, and each of these to the mean of its own
    /// (Lloyd 1982, "Least squares quantization in PCM"), a few times. Distances are those of
    /// codes, weighted as the eye does; a colour counts by the root of its pixels, so that small
    /// lights keep theirs. Same pictures, same colours.
    /// @param pictures  RGB
    explicit Palette(std::span<const Image8> pictures);

    const std::vector<Colour>& colours() const { return colours_; }
    /// The place of each pixel's colour. @param picture  one of those that it was made for
    std::vector<std::uint8_t> indices(const Image8& picture) const;

private:
    std::vector<Colour> colours_;
    std::vector<std::uint32_t> known_;   ///< all colours that occur, packed, rising
    std::vector<std::uint8_t> nearest_;  ///< of each
};

}  // namespace rakelight
