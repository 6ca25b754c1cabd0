#pragma once
// What people and scripts choose a pose by: all records in one file, a sheet, a page. Made from the
// records and pictures in the poses' folders alone, so that shards join to the same bytes.

#include "poses/joined_poses.hpp"

namespace rakelight {

struct GalleryOptions {
    Completeness completeness = Completeness::all;
    const PoseFigure* by = nullptr;   ///< orders sheet and page; null: by number
    std::optional<std::size_t> best;  ///< only so many on sheet and page; needs `by`
};

struct WrittenGallery {
    JoinedPoses joined;
    std::vector<std::size_t> shown;  ///< places in joined.poses, in the order of sheet and page
    std::vector<std::string> files;  ///< names within the folder
};

/// Writes poses.json (all poses whatever `best` says), sheet.png and gallery.html: all or none.
/// @param folders     as join_poses takes them
/// @param out_folder  made when missing; may be one of `folders`
/// Throws what join_poses and read_pose_picture throw, Error(wrong_use) for `best` without `by`,
/// Error(not_written).
WrittenGallery write_gallery(const std::vector<std::filesystem::path>& folders,
                             const GalleryOptions& options,
                             const std::filesystem::path& out_folder);

/// A pose as a scene file has it: [pose], and [framing] where the zoom is not 1.
std::string pose_snippet(const PoseRecord& record);

/// The command that locks the pose: "rakelight lock medal.toml --pose yaw20_pitch0".
std::string lock_command(const PoseRecord& record);

}  // namespace rakelight
