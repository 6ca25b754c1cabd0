#include "model/soup.hpp"

#include <algorithm>
#include <mutex>
#include <new>

#ifdef __linux__
#include <sys/mman.h>
#endif

// The address sanitizer knows nothing of memory that it did not hand out itself.
#if defined(__linux__) && !defined(__SANITIZE_ADDRESS__)
#define RAKELIGHT_MOVES_PAGES
#endif

namespace rakelight {
namespace {

constexpr std::size_t large_page = 2 << 20;

[[maybe_unused]] bool is_large(std::size_t bytes) {
    return bytes >= 2 * large_page;
}

#ifdef RAKELIGHT_MOVES_PAGES

/// Pages of arrays that were freed, to become part of others, of whatever size: they are moved
/// there, not copied. New pages are what a large import waits for longest (the system zeroes each),
/// and a heap that keeps freed arrays grows to twice of what is in use, since those that come later
/// have other sizes.
class PagePool {
public:
    void* allocate(std::size_t bytes) {
        char* array = reserve(bytes);
        const std::lock_guard lock(mutex_);
        for (std::size_t filled = 0; filled < bytes && !pieces_.empty();) {
            Piece& piece = pieces_.back();
            const std::size_t size = std::min(piece.size, bytes - filled);
            piece.size -= size;  // its end goes, so that its start stays aligned
            char* const from = piece.base + piece.size;
            if (piece.size == 0) pieces_.pop_back();
            if (::mremap(from, size, size, MREMAP_MAYMOVE | MREMAP_FIXED, array + filled) ==
                MAP_FAILED)
                throw std::bad_alloc();
            filled += size;
        }
        return array;
    }

    void release(void* array, std::size_t bytes) noexcept {
        const std::lock_guard lock(mutex_);
        if (pieces_.size() < pieces_.capacity())
            pieces_.push_back({static_cast<char*>(array), bytes});
        else
            ::munmap(array, bytes);
    }

    PagePool() { pieces_.reserve(256); }

private:
    struct Piece {
        char* base;
        std::size_t size;
    };

    // Addresses that begin at a large page. The rest of what is asked for to find one goes back.
    static char* reserve(std::size_t bytes) {
        void* base = ::mmap(nullptr, bytes + large_page, PROT_READ | PROT_WRITE,
                            MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
        if (base == MAP_FAILED) throw std::bad_alloc();
        char* const first = static_cast<char*>(base);
        const std::size_t before =
            (large_page - reinterpret_cast<std::uintptr_t>(first) % large_page) % large_page;
        if (before > 0) ::munmap(first, before);
        ::munmap(first + before + bytes, large_page - before);
#ifdef MADV_HUGEPAGE
        ::madvise(first + before, bytes, MADV_HUGEPAGE);
#endif
        return first + before;
    }

    std::mutex mutex_;
    std::vector<Piece> pieces_;
};

PagePool& page_pool() {
    static PagePool& pool = *new PagePool;  // arrays may outlive any other static
    return pool;
}

std::size_t whole_pages(std::size_t bytes) {
    return (bytes + large_page - 1) / large_page * large_page;
}

#endif

}  // namespace

void* allocate_array(std::size_t bytes) {
#ifdef RAKELIGHT_MOVES_PAGES
    if (is_large(bytes)) return page_pool().allocate(whole_pages(bytes));
#endif
    void* array = std::malloc(bytes > 0 ? bytes : 1);
    if (array == nullptr) throw std::bad_alloc();
    return array;
}

void free_array(void* array, [[maybe_unused]] std::size_t bytes) noexcept {
#ifdef RAKELIGHT_MOVES_PAGES
    if (is_large(bytes)) return page_pool().release(array, whole_pages(bytes));
#endif
    std::free(array);
}

}  // namespace rakelight
