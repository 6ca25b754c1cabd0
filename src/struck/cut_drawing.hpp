#pragma once
// A cut drawn to be read: heights and lengths in mm, larger than life and in true proportion.

#include <string>

#include "struck/cut_profile.hpp"

namespace rakelight {

/// How many times as high as it is a profile is drawn: the largest of 1, 2, 5, 10, 20, 50 and so on
/// that leaves it less than a third as high as it is long.
/// @param length_mm, height_mm  > 0
double raised_by(double length_mm, double height_mm);

/// The text of an SVG 1.1 picture, 960 units wide, for light and dark pages alike: the profile
/// raised as raised_by says, and below it, where that is more than 1, in true proportion; both over
/// axes in mm, along the line and over the field. Of the blank's thickness, which a scene does not
/// say, only the beginning is drawn.
/// @param pieces  may be empty: the axes alone
std::string cut_drawing(const std::vector<CutPiece>& pieces, const CutLine& line);

}  // namespace rakelight
