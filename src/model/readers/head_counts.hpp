#pragma once
// How large the surface of a PLY or a binary STL is, by the head of its file. Private to model/.

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "model/import_bytes.hpp"

namespace rakelight {

struct HeadCounts {
    SurfaceSize size;
    bool normals = false;
};

/// Nothing for other formats, and for a file that cannot be read, has no sound head or no triangles
/// in it. Of a PLY the head is read, of an STL a few thousand triangles besides.
std::optional<HeadCounts> head_counts(const std::filesystem::path& file, std::uint64_t file_bytes);

/// Fewer where the file has no more; none of one that cannot be read.
std::string first_bytes_of(const std::filesystem::path& file, std::size_t most);

}  // namespace rakelight
