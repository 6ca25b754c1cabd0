#pragma once
// What the fuzz targets share. Each target is one function that libFuzzer calls with bytes of its
// own making; what must hold for every input is asserted, in every kind of build.

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <string_view>

#include "error.hpp"
#include "model/confined/file_handle.hpp"

namespace fuzz {

/// Ends the process, which libFuzzer keeps the input of, unless `holds`.
inline void require(bool holds, const char* what) {
    if (holds) return;
    std::fprintf(stderr, "broken: %s\n", what);
    std::abort();
}

/// What every refusal of a model has.
void require_refusal(const rakelight::Error& error);

/// Calls use(), which may refuse what it gets.
template <class Use>
void refused_or(const Use& use) {
    try {
        use();
    } catch (const rakelight::Error& error) {
        require_refusal(error);
    }
}

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
    return {reinterpret_cast<const char*>(data), size};
}

/// A file in memory that holds these bytes.
class MemoryFile {
public:
    explicit MemoryFile(std::string_view bytes);
    int descriptor() const { return handle_.get(); }
    /// A name that opens it.
    std::filesystem::path path() const;

private:
    rakelight::FileHandle handle_;
};

/// A folder for files that are found by their names; gone when the target ends.
class Folder {
public:
    Folder();
    ~Folder();
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    const std::filesystem::path& path() const { return path_; }
    /// Returns the file's path.
    std::filesystem::path write(const std::string& name, std::string_view bytes) const;

private:
    std::filesystem::path path_;
};

}  // namespace fuzz
