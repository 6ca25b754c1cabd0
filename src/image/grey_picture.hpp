#pragma once
// A picture of the user's as one channel.

#include <cstddef>
#include <cstdint>
#include <vector>

namespace rakelight {

/// Rows from the top; 0 to 65535, linear as the file has them.
struct GreyPicture {
    int width = 0;
    int height = 0;
    std::vector<std::uint16_t> grey;   ///< width * height; of colours their mean
    std::vector<std::uint16_t> alpha;  ///< the same; empty: opaque
};

}  // namespace rakelight
