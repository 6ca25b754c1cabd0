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

#include "model/confined/file_handle.hpp"

namespace fuzz {

/// Ends the process, which libFuzzer keeps the input of, unless `holds`.
inline void require(bool holds, const char* what) {
    if (holds) return;
    std::fprintf(stderr, "broken: %s\n", what);
    std::abort();
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

}  // namespace fuzz
