#pragma once
// Corners that a file gives no normal, among others that have one. Private to model/.

#include <limits>

#include <glm/glm.hpp>

namespace rakelight {

/// Stands in Soup::normals for a corner without one: it is missing, not broken.
inline constexpr glm::vec3 absent_normal(-std::numeric_limits<float>::infinity());

}  // namespace rakelight
