#pragma once
// Loops that share their work among threads. The cut into chunks depends on nothing but the count,
// so that a result put together chunk by chunk is the same on every machine. Private to model/.

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace rakelight {

inline std::size_t chunk_count(std::size_t count, std::size_t chunk_size) {
    return (count + chunk_size - 1) / chunk_size;
}

/// Calls work(chunk, first, last) for every chunk of [0, count), each exactly once, on up to eight
/// threads. `work` writes only what belongs to its chunk. The first exception is thrown again
/// here, after all threads ended.
template <class Work>
void parallel_chunks(std::size_t count, std::size_t chunk_size, const Work& work) {
    const std::size_t chunks = chunk_count(count, chunk_size);
    std::atomic<std::size_t> next{0};
    std::exception_ptr failure;
    std::mutex failure_mutex;
    const auto run = [&] {
        try {
            for (std::size_t chunk; (chunk = next.fetch_add(1)) < chunks;)
                work(chunk, chunk * chunk_size, std::min(count, (chunk + 1) * chunk_size));
        } catch (...) {
            const std::lock_guard lock(failure_mutex);
            if (!failure) failure = std::current_exception();
            next = chunks;
        }
    };
    {
        std::vector<std::jthread> helpers;
        const std::size_t threads =
            std::min({chunks, std::size_t{std::thread::hardware_concurrency()}, std::size_t{8}});
        helpers.reserve(8);
        try {
            for (std::size_t i = 1; i < threads; ++i) helpers.emplace_back(run);
        } catch (const std::system_error&) {
            // No thread to be had (a tight memory limit): the work is done with those there are.
        }
        run();
    }
    if (failure) std::rethrow_exception(failure);
}

}  // namespace rakelight
