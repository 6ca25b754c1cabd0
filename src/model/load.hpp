#pragma once
// From a model file to a mesh. The file is read in a child process with limits, by a reader of our
// own where it is of a plain format and else by Assimp: a file
// that crashes, hangs or eats memory costs one clear error, never this process.

#include <cstdint>
#include <filesystem>
#include <optional>

#include "model/mesh.hpp"
#include "scene/scene.hpp"

namespace rakelight {

struct ImportLimits {
    std::uint64_t memory_mib = 8192;  ///< address space of the child
    /// Memory of its own, not shared with others; empty: no limit beside the address space.
    std::optional<std::uint64_t> own_mib;
    std::uint32_t cpu_s = 300;
    std::uint32_t wall_s = 600;
};

/// What keeps an import's child process from all but its work, beyond the limits.
struct Confinement {
    int landlock_version = 0;  ///< it opens the model's folder only, and to read; 0: whatever the
                               ///< user may open
    bool calls = false;        ///< no network, no other processes, nothing written (seccomp)
    bool operator==(const Confinement&) const = default;
};

/// Tries it out in a child process: what this system's kernel does.
Confinement import_confinement();

struct CacheSettings {
    bool use = true;                              ///< false: neither read nor written
    std::optional<std::filesystem::path> folder;  ///< empty: $XDG_CACHE_HOME/rakelight, or
                                                  ///< ~/.cache/rakelight
    std::uint64_t limit_mib = 4096;               ///< least recently used entries go first
};

struct LoadOptions {
    ReadingSettings reading;
    ImportLimits limits;
    CacheSettings cache;
    /// Most memory that may be used, import and rendering; empty: what the machine has available.
    std::optional<std::uint64_t> memory_mib;
};

/// The limit in MiB, asked of the machine where the options leave it open.
std::uint64_t memory_limit_mib(const LoadOptions& options);

/// Throws Error(bad_model) when importing the file is reckoned to take more than the limit.
void refuse_import_beyond(std::uint64_t limit_mib, const std::filesystem::path& file,
                          std::uint64_t file_bytes, const LoadOptions& options);

/// Loads a model, from the cache when an entry for the same content, options and version is there.
/// Call it before a graphics context exists: it forks.
/// Before an import it is reckoned what it will take, see import_need.hpp.
/// Throws Error(bad_model): the file is missing, unreadable, of an unknown format, without any
/// triangle; or its import would take more memory than the options allow; or it crashed (signal),
/// ran out of memory, CPU or wall time (which limit and how to raise it). Throws
/// Error(interrupted/terminated) when a signal asked the process to stop. Throws Error(not_written)
/// when neither the cache nor a temporary folder can hold the mesh. A cache folder that cannot be
/// used is a warning in the facts, not an error.
Mesh load_model(const std::filesystem::path& file, const LoadOptions& options);

}  // namespace rakelight
