#pragma once
// What a child process gives up before it reads a file from anywhere. Private to model/.

#include <filesystem>
#include <vector>

#include "model/load.hpp"

namespace rakelight {

/// All that a confined child can reach beyond its own memory.
struct ChildReach {
    /// Files, and folders with all that lies below them, that it may open for reading.
    std::vector<std::filesystem::path> readable;
    int output = -1;  ///< a descriptor that stays open, and writable if it was; -1: none
};

/// A model's folder, under whatever names its path leads there, and the model itself, which may be
/// a link to elsewhere; with files outside of it, all there is.
ChildReach reach_of_model(const std::filesystem::path& file, bool outside_files, int output);

/// Confines this process for good, threads that it starts included:
/// - files can be opened for reading only, and only those in reach (Landlock);
/// - no network: neither sockets (seccomp) nor TCP ports (Landlock from its version 4);
/// - no other process is started, run, traced or signalled, and no system call is answered that an
///   import has no need for (seccomp): most fail, those that no honest code makes end the process
///   with SIGSYS.
/// What the kernel has no means for stays undone and is left out of the answer. Needs no rights,
/// and no memory, so that it can be done under a tight limit.
Confinement confine_this_process(const ChildReach& reach) noexcept;

}  // namespace rakelight
