#include "model/mapped_file.hpp"

#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdint>
#include <system_error>

#include "model/confined/file_handle.hpp"

namespace rakelight {

MappedFile::MappedFile(const std::filesystem::path& file) {
    const FileHandle handle = open_regular(file);
    struct stat status {};
    if (::fstat(handle.get(), &status) != 0)
        throw std::system_error(errno, std::generic_category());
    size_ = static_cast<std::size_t>(status.st_size);
    if (size_ == 0) return;  // nothing can be mapped
    void* base = ::mmap(nullptr, size_, PROT_READ, MAP_PRIVATE, handle.get(), 0);
    if (base == MAP_FAILED) throw std::system_error(errno, std::generic_category());
    base_ = static_cast<char*>(base);
}

MappedFile::~MappedFile() {
    if (base_ != nullptr) ::munmap(base_, size_);
}

void MappedFile::release(std::string_view part) const {
#ifdef MADV_DONTNEED
    // Whole pages only, and not those that hold something of a neighbour.
    const auto page = static_cast<std::uintptr_t>(::sysconf(_SC_PAGESIZE));
    const auto first = (reinterpret_cast<std::uintptr_t>(part.data()) + page - 1) / page * page;
    const auto last = reinterpret_cast<std::uintptr_t>(part.data() + part.size()) / page * page;
    if (first < last) ::madvise(reinterpret_cast<void*>(first), last - first, MADV_DONTNEED);
#endif
}

}  // namespace rakelight
