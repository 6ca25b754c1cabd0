#pragma once
// Files that hold a mesh once for every frame. Private to model/.

#include <cstdint>
#include <filesystem>

namespace rakelight {

/// Frames of an MD2, MD3 or MDC file, as its header states; 0: another format, or no header.
std::uint32_t count_vertex_frames(const std::filesystem::path& file);

}  // namespace rakelight
