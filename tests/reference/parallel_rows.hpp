#pragma once
// A loop over rows on all cores. What a row does must not depend on the others.

#include <algorithm>
#include <atomic>
#include <thread>
#include <vector>

namespace reference {

template <typename Work>
void parallel_rows(int rows, const Work& work) {
    std::atomic<int> next{0};
    const auto run = [&] {
        for (int row = next++; row < rows; row = next++) work(row);
    };
    std::vector<std::thread> threads;
    const unsigned count = std::max(1U, std::thread::hardware_concurrency());
    for (unsigned i = 1; i < count; ++i) threads.emplace_back(run);
    run();
    for (auto& thread : threads) thread.join();
}

}  // namespace reference
