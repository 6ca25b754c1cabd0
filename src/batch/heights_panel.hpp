#pragma once
// Private to batch/: how a relief uses its height, drawn for the proof.

#include "image/proof.hpp"
#include "relief/recipe.hpp"

namespace rakelight {

/// Bars from the lowest height at the left to the highest: how much of the subject lies there in
/// the relief, bright, and by depth alone, dark before them. Below, what each uses of the range.
/// The tallest bar has the whole height; bars are in proportion to roots of areas, so that thin
/// ones are seen.
ProofPanel heights_panel(const Relief& relief);

}  // namespace rakelight
