#pragma once
// Private to batch/: the passes that show the finished relief, the height map first.

#include <memory>
#include <string>
#include <vector>

#include "batch/passes.hpp"
#include "batch/relief_work.hpp"

namespace rakelight {

/// Their names, in the order of make_relief_passes.
std::vector<std::string> relief_pass_names(const ReliefSettings& relief);

/// They take no rows: `work` does.
std::vector<std::unique_ptr<Pass>> make_relief_passes(std::shared_ptr<ReliefWork> work,
                                                      const PassPlace& place);

/// Heights under the proof's low lamp, of a panel's size, sRGB greys.
Image16 lit_panel_of(const Plane& height_mm, const ImageGrid& grid);

}  // namespace rakelight
