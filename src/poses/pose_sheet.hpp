#pragma once
// Poses side by side on one sheet, to print or to send.

#include <cstddef>
#include <string>
#include <vector>

#include "poses/joined_poses.hpp"

namespace rakelight {

/// The bytes of an 8-bit PNG: each pose's relief picture with its name and up to three figures
/// that it knows, `by` the first of them. At most 120 poses, the first ones.
/// @param order  places in `poses`, usable ones
/// Throws what read_pose_picture throws, Error(not_written) when the sheet would be too large.
std::vector<std::byte> pose_sheet(const std::vector<JoinedPose>& poses,
                                  const std::vector<std::size_t>& order, const PoseFigure* by);

}  // namespace rakelight
