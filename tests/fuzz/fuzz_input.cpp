#include "fuzz_input.hpp"

#include <sys/mman.h>
#include <unistd.h>

namespace fuzz {

MemoryFile::MemoryFile(std::string_view bytes) : handle_(::memfd_create("fuzz", MFD_CLOEXEC)) {
    require(bool(handle_), "a file in memory");
    while (!bytes.empty()) {
        const ssize_t count = ::write(handle_.get(), bytes.data(), bytes.size());
        require(count > 0, "writing to memory");
        bytes.remove_prefix(static_cast<std::size_t>(count));
    }
}

std::filesystem::path MemoryFile::path() const {
    return "/proc/self/fd/" + std::to_string(handle_.get());
}

}  // namespace fuzz
