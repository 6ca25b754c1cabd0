#pragma once
// Independent pieces of work on all cores.

#include <functional>
#include <vector>

namespace rakelight {

/// Runs all tasks, each on some thread, and returns when all are done. The first exception, in the
/// tasks' order, is thrown again; tasks not yet started then are left out.
void run_tasks(const std::vector<std::function<void()>>& tasks);

}  // namespace rakelight
