#pragma once
// The poses of one sweep, from the folders that its shards have written.

#include <optional>

#include "image/png8.hpp"
#include "poses/pose_record.hpp"

namespace rakelight {

struct JoinedPose {
    PoseRecord record;
    std::filesystem::path folder;
};

struct JoinedPoses {
    std::vector<JoinedPose> poses;     ///< by number
    std::vector<std::size_t> missing;  ///< numbers; empty unless a part was accepted
};

enum class Completeness { all, part };

/// @param folders  each a pose's own or one that holds poses' folders; subfolders without a record
///                 are left out
/// Throws Error(bad_scene), naming the files, when there is no record at all, one is spoilt, two
/// are not of one sweep (scene, number of poses, blank), two have one number or one name, and,
/// unless a part is accepted, when numbers are missing.
JoinedPoses join_poses(const std::vector<std::filesystem::path>& folders, Completeness wanted);

/// The bytes of a picture that stands beside a record, and the picture. Throws Error(bad_scene)
/// naming the file when it is missing or spoilt.
struct PosePicture {
    std::vector<std::byte> file;
    Image8 image;
};
PosePicture read_pose_picture(const JoinedPose& pose, const std::string& name);
/// Its bytes alone, not looked at. Throws Error(bad_scene) when there is no such file.
std::vector<std::byte> read_pose_file(const JoinedPose& pose, const std::string& name);

/// Usable poses, the better first by a figure; those that are equal by number, those that do not
/// know it last. Without a figure by number. @return places in `poses`, at most `most`
std::vector<std::size_t> best_poses(const std::vector<JoinedPose>& poses, const PoseFigure* by,
                                    std::optional<std::size_t> most);

/// For people: "62 %", "8.1 mm", "-0.25 mm", "not known".
std::string figure_text(const PoseFigure& figure, double value);

}  // namespace rakelight
