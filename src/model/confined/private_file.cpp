#include "model/confined/private_file.hpp"

#include <sys/mman.h>
#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <system_error>

#include "error.hpp"

namespace rakelight {

FileHandle open_private_file() {
    try {
        TemporaryFile file(std::filesystem::temp_directory_path());
        return file.release();
    } catch (const std::system_error& e) {
#ifdef __linux__
        if (FileHandle memory(::memfd_create("rakelight", MFD_CLOEXEC)); memory) return memory;
#endif
        throw Error(ExitCode::not_written, "no temporary file can be made (" + e.code().message() +
                                               "); set TMPDIR to a folder that can be written to");
    }
}

void append_bytes(int file, std::span<const std::byte> bytes) {
    while (!bytes.empty()) {
        const ssize_t count = ::write(file, bytes.data(), bytes.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) throw std::system_error(errno, std::generic_category());
        bytes = bytes.subspan(static_cast<std::size_t>(count));
    }
}

bool read_bytes(int file, std::span<std::byte> bytes, std::uint64_t offset) {
    while (!bytes.empty()) {
        const ssize_t count = ::pread(file, bytes.data(), bytes.size(), static_cast<off_t>(offset));
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) throw std::system_error(errno, std::generic_category());
        if (count == 0) return false;
        bytes = bytes.subspan(static_cast<std::size_t>(count));
        offset += static_cast<std::uint64_t>(count);
    }
    return true;
}

}  // namespace rakelight
