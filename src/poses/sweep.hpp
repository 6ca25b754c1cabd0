#pragma once
// Many poses of one scene: its model is loaded once, several poses are at work at a time.

#include <array>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <vector>

#include "batch/job.hpp"
#include "poses/pose_record.hpp"
#include "render/device_renderer.hpp"

namespace rakelight {

/// One of several machines that share a sweep: it has the poses number - 1, number - 1 + of, ...
struct Shard {
    std::size_t number = 1;  ///< from 1
    std::size_t of = 1;
    bool has(std::size_t pose) const { return pose % of == number - 1; }
};

std::size_t shard_size(const Shard& shard, std::size_t poses);

struct SweepOptions {
    std::filesystem::path folder;  ///< gets a folder for each pose
    int longer_px = 600;           ///< of the pictures, never more than the scene's; 0: the scene's
    bool passes = false;           ///< write what `render` writes for each pose, too
    Shard shard;
    std::size_t at_once = 0;  ///< poses at work at a time; 0: as many as suit the machine
    std::uint64_t memory_mib = std::uint64_t{1} << 40;  ///< fewer are at work where this is less
    DeviceChoice device = DeviceChoice::automatic;
    bool again = false;    ///< render poses too that are there, unchanged
    bool dry_run = false;  ///< only say which poses are unchanged; nothing is rendered or written
    /// Near and far of depth, in mm, for all poses; empty: each its own.
    std::optional<std::array<double, 2>> depth_range_mm;
};

enum class PoseState {
    rendered,
    unchanged,  ///< it was there already, of the same scene, model and program
    unusable,   ///< nothing can be seen of it; the record says why
};

struct TriedPose {
    PoseRecord record;
    PoseState state = PoseState::rendered;
};

/// Told of each pose when it is done, by one thread at a time, in the order of finishing.
using PoseListener = std::function<void(const TriedPose&)>;

/// Renders the shard's poses into folders of their names. Each pose's files appear together, its
/// record last; what is done when the sweep is broken off stays, and is found unchanged next time.
/// Records of poses that are no longer among the candidates are taken away.
/// @return in the candidates' order
/// Throws Error(interrupted), (terminated), (not_written), (no_graphics), and what a scene that is
/// wrong for every pose throws.
std::vector<TriedPose> run_sweep(const LoadedScene& loaded,
                                 const std::vector<PoseCandidate>& candidates,
                                 const SweepOptions& options, const PoseListener& listener = {});

/// The pixels per mm of a sweep's pictures.
double sweep_px_per_mm(const Scene& scene, int longer_px);

/// Nearest and farthest visible z of all candidates, whatever the shard, mm: a range in which the
/// depth of none clips. Poses of which nothing can be seen do not count.
/// Throws Error(unusable_picture) when that is all of them.
std::array<double, 2> common_depth_range_mm(const LoadedScene& loaded,
                                            const std::vector<PoseCandidate>& candidates,
                                            const SweepOptions& options);

}  // namespace rakelight
