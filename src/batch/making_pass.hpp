#pragma once
// Private to batch/: the passes that show what of the finished relief cannot be made.

#include <memory>

#include "batch/passes.hpp"
#include "batch/relief_work.hpp"

namespace rakelight {

/// `relief-limits`: what lies beyond the limits of [relief.making].
std::unique_ptr<Pass> make_limits_pass(std::shared_ptr<ReliefWork> work, const PassPlace& place);
/// `relief-steps`: what lies beside the steps of the target.
std::unique_ptr<Pass> make_steps_pass(std::shared_ptr<ReliefWork> work, const PassPlace& place);

}  // namespace rakelight
