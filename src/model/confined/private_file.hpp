#pragma once
// A file of no name for a child process to write to. Private to model/.

#include <cstddef>
#include <cstdint>
#include <span>

#include "model/confined/file_handle.hpp"

namespace rakelight {

/// Open for reading and writing. Where there is no folder for it, it lies in memory.
/// Throws Error(not_written).
FileHandle open_private_file();

/// Adds bytes to a file. Throws std::system_error.
void append_bytes(int file, std::span<const std::byte> bytes);

/// Reads bytes that lie at an offset. False when the file ends before. Throws std::system_error.
bool read_bytes(int file, std::span<std::byte> bytes, std::uint64_t offset);

}  // namespace rakelight
