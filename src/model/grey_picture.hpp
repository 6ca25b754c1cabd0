#pragma once
// A picture of the user's as one channel.

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <vector>

namespace rakelight {

/// Rows from the top; 0 to 65535, linear as the file has them.
struct GreyPicture {
    int width = 0;
    int height = 0;
    std::vector<std::uint16_t> grey;   ///< width * height; of colours their mean
    std::vector<std::uint16_t> alpha;  ///< the same; empty: opaque

    /// 16 hex digits over all of it.
    std::string hash() const;
};

/// Reads a file of any format that a model's pictures may have, in a confined child process as an
/// import is.
/// @param name  as messages call it
/// Throws Error(bad_scene) when there is no such file or it is no picture that can be read, and as
/// run_in_child does.
GreyPicture load_grey_picture(const std::filesystem::path& file, const std::string& name);

}  // namespace rakelight
