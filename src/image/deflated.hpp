#pragma once
// Private to image/: what a PNG's picture is packed by.

#include <cstdint>
#include <vector>

namespace rakelight {

/// A zlib stream of the bytes (RFC 1950). Same input, same bytes. @param level  1 to 12
/// Throws std::bad_alloc.
std::vector<std::uint8_t> deflated(const std::vector<std::uint8_t>& bytes, int level);

}  // namespace rakelight
