#pragma once
// Private to batch/: passes about what a mould, a die or a cutter does not like.

#include <memory>

#include "batch/passes.hpp"

namespace rakelight {

/// The slope of a wall of the pass's draft, mm of the model's depth for a mm of the picture.
double steep_slope(const SteepPass& pass);

std::unique_ptr<Pass> make_steep_pass(const SteepPass& pass, const PassPlace& place);
std::unique_ptr<Pass> make_undercut_pass(const UndercutPass& pass, const PassPlace& place);

}  // namespace rakelight
