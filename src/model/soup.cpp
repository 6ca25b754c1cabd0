#include "model/soup.hpp"

#include <new>

#ifdef __linux__
#include <sys/mman.h>
#endif

namespace rakelight {

void* allocate_array(std::size_t bytes) {
    constexpr std::size_t large_page = 2 << 20;
    const bool is_large = bytes >= 2 * large_page;
    const std::size_t whole_pages = (bytes + large_page - 1) / large_page * large_page;
    void* array =
        is_large ? std::aligned_alloc(large_page, whole_pages) : std::malloc(bytes > 0 ? bytes : 1);
    if (array == nullptr) throw std::bad_alloc();
#if defined(__linux__) && defined(MADV_HUGEPAGE)
    if (is_large) ::madvise(array, whole_pages, MADV_HUGEPAGE);
#endif
    return array;
}

}  // namespace rakelight
