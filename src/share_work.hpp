#pragma once
// Work shared among threads: one loop for every room.

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace rakelight {

/// Threads that the machine runs at a time, at least one.
inline std::size_t machine_threads() {
    return std::max(1U, std::thread::hardware_concurrency());
}

/// Calls work(i) for every i of [0, count), each exactly once, on up to so many threads, this one
/// among them. Which thread takes which is open. The first failure, in the order of i, is thrown
/// again here after all threads ended; what has not begun then is left out. Where no thread can be
/// had (a tight limit), those there are do the work.
template <typename Work>
void share_work(std::size_t count, std::size_t threads, const Work& work) {
    std::atomic<std::size_t> next{0};
    std::exception_ptr failure;
    std::size_t failed = count;
    std::mutex failure_mutex;
    const auto run = [&] {
        for (std::size_t i; (i = next.fetch_add(1)) < count;) {
            try {
                work(i);
            } catch (...) {
                const std::lock_guard lock(failure_mutex);
                if (i < failed) {
                    failed = i;
                    failure = std::current_exception();
                }
                next = count;
            }
        }
    };
    {
        std::vector<std::jthread> helpers;
        try {
            for (std::size_t i = 1; i < std::min(threads, count); ++i) helpers.emplace_back(run);
        } catch (const std::system_error&) {
            // The limit; see above.
        }
        run();
    }
    if (failure) std::rethrow_exception(failure);
}

}  // namespace rakelight
