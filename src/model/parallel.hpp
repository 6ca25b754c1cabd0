#pragma once
// Loops that share their work among threads. The cut into chunks depends on nothing but the count,
// so that a result put together chunk by chunk is the same on every machine. Private to model/.

#include <algorithm>
#include <cstddef>

#include "share_work.hpp"

namespace rakelight {

inline std::size_t chunk_count(std::size_t count, std::size_t chunk_size) {
    return (count + chunk_size - 1) / chunk_size;
}

/// Calls work(chunk, first, last) for every chunk of [0, count), each exactly once, on up to eight
/// threads. `work` writes only what belongs to its chunk. The first exception is thrown again
/// here, after all threads ended.
template <class Work>
void parallel_chunks(std::size_t count, std::size_t chunk_size, const Work& work) {
    constexpr std::size_t most_threads = 8;
    const std::size_t threads = std::min(machine_threads(), most_threads);
    share_work(chunk_count(count, chunk_size), threads, [&](std::size_t chunk) {
        work(chunk, chunk * chunk_size, std::min(count, (chunk + 1) * chunk_size));
    });
}

}  // namespace rakelight
