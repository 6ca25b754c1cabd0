#pragma once
// A model's file in memory. Private to model/.

#include <cstddef>
#include <filesystem>
#include <string_view>

namespace rakelight {

/// A file mapped for reading. Another process that cuts it short meanwhile ends this one with
/// SIGBUS, so that only the import's child process maps what it did not write itself.
class MappedFile {
public:
    /// Throws std::system_error when it cannot be read or is no regular file.
    explicit MappedFile(const std::filesystem::path& file);
    MappedFile(const MappedFile&) = delete;
    MappedFile& operator=(const MappedFile&) = delete;
    ~MappedFile();

    std::string_view bytes() const { return {base_, size_}; }

    /// Says that `part` of bytes() is not needed any more, so that its pages stop counting as
    /// memory of this process. It stays readable.
    void release(std::string_view part) const;

private:
    char* base_ = nullptr;
    std::size_t size_ = 0;
};

}  // namespace rakelight
