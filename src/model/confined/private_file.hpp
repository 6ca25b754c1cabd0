#pragma once
// A file of no name for a child process to write to. Private to model/.

#include "model/confined/file_handle.hpp"

namespace rakelight {

/// Open for reading and writing. Where there is no folder for it, it lies in memory.
/// Throws Error(not_written).
FileHandle open_private_file();

}  // namespace rakelight
