#pragma once
// The blank as images: area coverage of its regions.

#include <string>
#include <vector>

#include "framing/blank.hpp"
#include "image/plane.hpp"

namespace rakelight {

struct BlankMask {
    std::string region;  ///< "blank", "field", "rim", "hole", "exergue"
    Plane coverage;      ///< share of the pixel's area, 0..1
};

/// The names of a blank's regions, in the order of its masks.
std::vector<std::string> blank_regions(const BlankGeometry& blank);

/// "blank" is everything inside the outline but the hole; "field" and "rim" are its two regions,
/// both less the hole; "hole" and "exergue" (a segment of the field) only where the blank has them.
/// Each pixel's share is exact along x and the mean of 16 lines along y.
std::vector<BlankMask> blank_masks(const BlankGeometry& blank, const ImageGrid& grid);

/// The same for rows [first_row, first_row + rows) of the grid alone: the same values.
std::vector<BlankMask> blank_masks(const BlankGeometry& blank, const ImageGrid& grid, int first_row,
                                   int rows);

}  // namespace rakelight
