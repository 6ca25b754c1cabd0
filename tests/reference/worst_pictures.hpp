#pragma once
// Pictures of where a pass is farthest from what was traced.

#include "comparison.hpp"

namespace reference {

/// Renders the view again and writes, side by side: the pass, what was traced, and the difference
/// (mid-grey is none). Every other pixel each way. The files' names say what they show.
/// @param which  "depth", "whole" or "height"
/// Gives the file's name in the folder.
std::string write_worst(const View& view, const std::string& which, const fs::path& folder);

}  // namespace reference
