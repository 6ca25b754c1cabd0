#pragma once
// How much memory may be used on this machine.

#include <cstdint>

namespace rakelight {

/// MiB that can be had without pushing others out: what the system calls available, less where the
/// control groups that this process is in allow less. Where the system does not say (other than
/// Linux): the physical memory, or a limit that nothing reaches.
std::uint64_t available_memory_mib();

}  // namespace rakelight
