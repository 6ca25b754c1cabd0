#pragma once
// Private to batch/: passes about what a mould, a die or a cutter does not like.

#include <memory>

#include "batch/passes.hpp"

namespace rakelight {

std::unique_ptr<Pass> make_undercut_pass(const UndercutPass& pass, const PassPlace& place);

}  // namespace rakelight
