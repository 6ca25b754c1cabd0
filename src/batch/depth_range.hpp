#pragma once
// One range of depth for several pictures, so that a code means the same height in all of them.

#include <array>

#include "batch/job.hpp"

namespace rakelight {

/// Nearest and farthest visible z of a picture, mm: as its manifest says them.
/// Throws Error(unusable_picture) when nothing of the subject is visible.
std::array<double, 2> visible_depth_mm(const PreparedScene& prepared, Renderer& renderer);

/// The smallest range that holds both.
std::array<double, 2> joined_range_mm(const std::array<double, 2>& a,
                                      const std::array<double, 2>& b);

/// A range that any other widens: near beyond far.
extern const std::array<double, 2> no_range_mm;

/// Makes it the range of the scene's depth pass, if it has one.
void set_depth_range(Scene& scene, const std::array<double, 2>& range_mm);

}  // namespace rakelight
