#pragma once
// Owners of a file descriptor and of a file that must not stay. Private to model/.

#include <filesystem>
#include <utility>

namespace rakelight {

class FileHandle {
public:
    FileHandle() = default;
    explicit FileHandle(int descriptor) : descriptor_(descriptor) {}
    FileHandle(FileHandle&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}
    FileHandle& operator=(FileHandle&& other) noexcept {
        std::swap(descriptor_, other.descriptor_);
        return *this;
    }
    ~FileHandle() { reset(); }

    int get() const { return descriptor_; }
    explicit operator bool() const { return descriptor_ >= 0; }
    void reset();

private:
    int descriptor_ = -1;
};

/// Opens a regular file for reading; never waits, whatever kind of file it is. Throws
/// std::system_error (is a directory, no such file, ...; std::errc::not_supported for pipes and
/// devices).
FileHandle open_regular(const std::filesystem::path& file);

/// A new file, open for reading and writing, that is removed again unless it is kept.
class TemporaryFile {
public:
    /// Throws std::system_error.
    explicit TemporaryFile(const std::filesystem::path& folder);
    TemporaryFile(TemporaryFile&& other) noexcept
        : path_(std::exchange(other.path_, {})), handle_(std::move(other.handle_)) {}
    TemporaryFile& operator=(TemporaryFile&&) = delete;
    ~TemporaryFile() { remove(); }

    int descriptor() const { return handle_.get(); }
    /// Takes its name away; what was written lives as long as somebody holds or maps it.
    void remove();
    /// The same, and hands over the descriptor.
    FileHandle release() {
        remove();
        return std::move(handle_);
    }
    /// Gives it its final name, replacing what had it. Throws std::system_error.
    void keep_as(const std::filesystem::path& path);

    static constexpr const char* prefix = "unfinished-";

private:
    std::filesystem::path path_;
    FileHandle handle_;
};

}  // namespace rakelight
