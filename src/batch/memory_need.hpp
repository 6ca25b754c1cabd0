#pragma once
// How much memory a scene will take, reckoned before anything is rendered, and what to do about it
// where it is more than there may be.

#include <cstddef>
#include <cstdint>
#include <string>

#include "batch/job.hpp"

namespace rakelight {

/// The most that it takes, in bytes, when the processor draws; what a graphics driver takes is not
/// in it. Compared with measured peaks in tests/cli/test_memory.cpp.
struct MemoryNeed {
    std::uint64_t model = 0;    ///< the mesh and its points: once
    std::uint64_t picture = 0;  ///< each picture that is at work
    /// With so many pictures at work, the program itself included.
    std::uint64_t total(std::size_t pictures = 1) const;
};

/// @param proof  the proof sheet is made too
MemoryNeed memory_need(const PreparedScene& prepared, bool proof);
/// Of a pose of a sweep, with the figures and pictures that it gets besides.
/// @param passes  the scene's passes are written
MemoryNeed memory_need_of_pose(const PreparedScene& prepared, bool passes);

/// Of pictures of several scenes: their models are in memory together.
MemoryNeed together(const MemoryNeed& a, const MemoryNeed& b);

/// How many pictures may be at work at a time: as many as wanted, or as many as fit.
/// @param about  what is rendered, for the message
/// Throws Error(unusable_picture) with all figures when not even one fits.
std::size_t pictures_within(std::uint64_t limit_mib, const MemoryNeed& need, std::size_t wanted,
                            const std::string& about);

/// Bytes as whole MiB, rounded up.
std::uint64_t mib_of(std::uint64_t bytes);

}  // namespace rakelight
