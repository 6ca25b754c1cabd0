#pragma once
// GIF: the one format of moving pictures that everything shows.

#include <cstddef>
#include <span>
#include <vector>

#include "image/png8.hpp"

namespace rakelight {

/// The bytes of a GIF (GIF89a) that shows pictures one after the other and begins anew, for ever.
/// One palette for all, so that what stands still looks still; no dither, whose grain would move.
/// Same input, same bytes.
/// @param pictures  RGB, at least one, all of one size, at most 65535 px a side
/// @param each_cs   how long each is shown, hundredths of a second, 2 to 65535
std::vector<std::byte> encode_gif(std::span<const Image8> pictures, int each_cs);

}  // namespace rakelight
