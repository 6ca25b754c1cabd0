#pragma once
// What tells a binary STL from a text one. Private to model/.

#include <cstddef>
#include <cstdint>
#include <string_view>

namespace rakelight {

constexpr std::size_t stl_head_bytes = 84;      ///< 80 of anything, and the count
constexpr std::size_t stl_triangle_bytes = 50;  ///< normal, three corners, two bytes

/// How many triangles a binary STL says that it has.
/// @param head  at least stl_head_bytes of it
std::uint32_t stl_claimed_triangles(std::string_view head);

/// Whether an STL is text: it begins with "solid" in any case, after a byte order mark and blanks,
/// as many a binary one does, whose count of triangles then fits its size or whose first bytes are
/// not those of a text.
/// @param head        its first bytes; 512 are enough
/// @param file_bytes  of the whole file
bool is_text_stl(std::string_view head, std::uint64_t file_bytes);

}  // namespace rakelight
