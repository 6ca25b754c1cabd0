#include "batch/tasks.hpp"

#include "share_work.hpp"

namespace rakelight {

void run_tasks(const std::vector<std::function<void()>>& tasks) {
    share_work(tasks.size(), machine_threads(), [&](std::size_t i) { tasks[i](); });
}

}  // namespace rakelight
