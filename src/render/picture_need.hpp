#pragma once
// How much memory a picture will take, reckoned before it is rendered.

#include <cstdint>

#include "render/renderer.hpp"

namespace rakelight {

/// The most that the processor takes while it renders such a picture, in bytes: its own maps and
/// planes and the mesh as the camera sees it. What the caller makes of the planes is not in it, nor
/// the mesh's mapping. Reckoned from the sizes of all that lies in memory together at the worst.
/// @param used  one flag per part: draw it
std::uint64_t picture_bytes(const RenderRequest& request, const Mesh& mesh,
                            const std::vector<bool>& used);

}  // namespace rakelight
