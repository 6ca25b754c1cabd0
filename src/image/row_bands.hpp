#pragma once
// A loop over the rows of an image that shares its work among threads.

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace rakelight {

/// Calls work(first_row, end_row) for bands that together are [0, height), each row exactly once,
/// on as many threads as the machine runs at a time. Which thread takes a band is open; `work`
/// writes only what belongs to its rows and reads nothing that another band writes, so that the
/// result does not depend on it. The first exception is thrown again here, after all threads ended.
/// @param height     rows, may be 0
/// @param band_rows  rows handed out at a time, > 0
template <typename Work>
void for_row_bands(int height, int band_rows, const Work& work) {
    std::atomic<int> next{0};
    std::exception_ptr failure;
    std::mutex failure_mutex;
    const auto run = [&] {
        try {
            for (int row; (row = next.fetch_add(band_rows)) < height;) {
                work(row, std::min(row + band_rows, height));
            }
        } catch (...) {
            const std::lock_guard lock(failure_mutex);
            if (!failure) failure = std::current_exception();
            next = height;
        }
    };
    {
        const int bands = (height + band_rows - 1) / band_rows;
        const int threads = std::min(static_cast<int>(std::thread::hardware_concurrency()), bands);
        std::vector<std::jthread> helpers;
        try {
            for (int i = 1; i < threads; ++i) helpers.emplace_back(run);
        } catch (const std::system_error&) {
            // No thread to be had (a tight limit): those there are do the work.
        }
        run();
    }
    if (failure) std::rethrow_exception(failure);
}

/// The same in bands of 16 rows.
template <typename Work>
void for_row_bands(int height, const Work& work) {
    for_row_bands(height, 16, work);
}

}  // namespace rakelight
