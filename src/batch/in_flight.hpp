#pragma once
// Several pictures at work at a time: while one is encoded and written, the next is rastered.

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <future>
#include <system_error>
#include <vector>

#include "heap.hpp"
#include "interrupt.hpp"
#include "render/device_renderer.hpp"
#include "share_work.hpp"

namespace rakelight {

/// How many pictures suit the machine. Two fill the gaps that one leaves on a few cores; on a GPU
/// the processor has only to encode, and more of them keep its cores busy. Large ones keep all
/// cores busy alone, and would need their memory twice.
/// @param largest_px  pixels of the largest of them
inline std::size_t pictures_at_once(std::int64_t largest_px) {
    constexpr std::int64_t large_px = std::int64_t{16} << 20;
    return largest_px > large_px ? 1 : std::clamp<std::size_t>(machine_threads() / 2, 2, 8);
}

inline std::int64_t pixels_of(const ImageGrid& grid) {
    return std::int64_t{grid.width} * grid.height;
}

/// Calls work(i, renderer) for each i of [0, count), up to so many at a time, each worker with a
/// renderer of its own; one at a time where the device gains nothing from more. After a failure
/// nothing new is begun; it is thrown when all have ended.
/// Load every model before: a renderer may open a graphics context.
template <typename Work>
void share_pictures(std::size_t count, std::size_t at_once, DeviceChoice device, const Work& work) {
    if (count > 1) keep_freed_memory();
    std::atomic<std::size_t> next{0};
    const auto run = [&](DeviceRenderer& renderer) {
        try {
            for (std::size_t i; (i = next.fetch_add(1)) < count;) {
                stop_if_interrupted();
                work(i, renderer);
            }
        } catch (...) {
            next = count;
            throw;
        }
    };
    DeviceRenderer first(device);
    std::vector<std::future<void>> others;
    const std::size_t workers = first.welcomes_others() ? std::min(at_once, count) : 1;
    try {
        while (others.size() + 1 < workers) {
            others.push_back(std::async(std::launch::async, [&] {
                DeviceRenderer own(device);
                run(own);
            }));
        }
    } catch (const std::system_error&) {
        // No more threads can be had: those there are do the work.
    }
    run(first);
    for (auto& other : others) other.get();
}

}  // namespace rakelight
