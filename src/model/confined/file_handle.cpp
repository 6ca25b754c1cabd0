#include "model/confined/file_handle.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <system_error>

namespace rakelight {
namespace {

[[noreturn]] void throw_errno() {
    throw std::system_error(errno, std::generic_category());
}

}  // namespace

void FileHandle::reset() {
    if (descriptor_ >= 0) ::close(descriptor_);
    descriptor_ = -1;
}

FileHandle open_regular(const std::filesystem::path& file) {
    FileHandle handle(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK));
    if (!handle) throw_errno();
    struct stat status {};
    if (::fstat(handle.get(), &status) != 0) throw_errno();
    if (S_ISDIR(status.st_mode))
        throw std::system_error(std::make_error_code(std::errc::is_a_directory));
    if (!S_ISREG(status.st_mode))
        throw std::system_error(std::make_error_code(std::errc::not_supported));
    return handle;
}

TemporaryFile::TemporaryFile(const std::filesystem::path& folder) {
    std::string name = (folder / (std::string(prefix) + "XXXXXX")).string();
    handle_ = FileHandle(::mkostemp(name.data(), O_CLOEXEC));
    if (!handle_) throw_errno();
    path_ = name;
}

void TemporaryFile::remove() {
    if (!path_.empty()) ::unlink(path_.c_str());
    path_.clear();
}

void TemporaryFile::keep_as(const std::filesystem::path& path) {
    if (::rename(path_.c_str(), path.c_str()) != 0) throw_errno();
    path_.clear();
}

}  // namespace rakelight
