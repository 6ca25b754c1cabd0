#include "batch/tasks.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <system_error>
#include <thread>

namespace rakelight {

void run_tasks(const std::vector<std::function<void()>>& tasks) {
    std::vector<std::exception_ptr> failures(tasks.size());
    std::atomic<std::size_t> next{0};
    std::atomic<bool> failed{false};
    const auto work = [&] {
        for (std::size_t i = next++; i < tasks.size() && !failed; i = next++) {
            try {
                tasks[i]();
            } catch (...) {
                failures[i] = std::current_exception();
                failed = true;
            }
        }
    };
    const std::size_t count =
        std::min<std::size_t>(tasks.size(), std::max(1U, std::thread::hardware_concurrency()));
    std::vector<std::jthread> threads;
    try {
        for (std::size_t i = 1; i < count; ++i) threads.emplace_back(work);
    } catch (const std::system_error&) {
        // No thread to be had (a tight limit): those there are do the work.
    }
    work();
    threads.clear();  // joins
    for (const auto& failure : failures) {
        if (failure) std::rethrow_exception(failure);
    }
}

}  // namespace rakelight
