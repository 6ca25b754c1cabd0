#pragma once
// Private to batch/: the height map as a pass beside the others.

#include <memory>

#include "batch/passes.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// Keeps the whole planes that the recipe asks for until the last row.
std::unique_ptr<Pass> make_relief_pass(const ReliefSettings& relief, const BlankGeometry& blank,
                                       const PassPlace& place);

}  // namespace rakelight
