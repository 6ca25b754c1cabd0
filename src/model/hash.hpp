#pragma once
// XXH3-128 of files and texts, as 32 hex digits in the order that `xxhsum -H2` prints. Private to
// model/.

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

namespace rakelight {

std::string hash_text(std::string_view text);

/// What changes when a file is written again.
struct FileStamp {
    std::uint64_t bytes = 0;
    std::int64_t changed_ns = 0;
    bool operator==(const FileStamp&) const = default;
};

/// The stamp of a regular file; the default one when there is none.
FileStamp stamp_of(const std::filesystem::path& file);

struct FileHash {
    std::string hex;
    FileStamp stamp;  ///< from before it was read
};

/// Reads a regular file. Throws std::system_error when it cannot be read or is not a regular file.
FileHash hash_file(const std::filesystem::path& file);

}  // namespace rakelight
