#pragma once
// How the C library's heap is used; elsewhere than in glibc nothing happens.

#include <climits>
#include <cstddef>

#ifdef __GLIBC__
#include <malloc.h>
#endif

#include "share_work.hpp"

namespace rakelight {

/// Few threads share one heap: each with its own would keep a free plane for each, a third more
/// memory, which grows with the number of pictures. Call it before there are threads.
inline void share_heaps() {
#ifdef __GLIBC__
    constexpr std::size_t threads_a_heap = 8;
    ::mallopt(M_ARENA_MAX, static_cast<int>(1 + (machine_threads() - 1) / threads_a_heap));
#endif
}

/// For many pictures: planes that one frees are the next one's. Given back to the system meanwhile
/// they would be asked for anew page by page, a twentieth of a pose's time. A single picture only
/// pays for it, with the most memory that any of its steps took.
inline void keep_freed_memory() {
#ifdef __GLIBC__
    ::mallopt(M_MMAP_THRESHOLD, 32 << 20);  // the most that it takes
    ::mallopt(M_TRIM_THRESHOLD, INT_MAX);
#endif
}

}  // namespace rakelight
