#pragma once
// Where a model's pictures lie. Private to model/.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "model/readers/recording_io.hpp"

namespace rakelight {

/// A picture's bytes, or where it was looked for.
struct FoundPicture {
    bool found = false;
    std::vector<unsigned char> bytes;
    std::string path;                ///< relative to the model's folder where that is possible
    std::vector<std::string> tried;  ///< the same, in the order of trying
};

/// Opens a picture that the model's file names. Its own path comes first, read with either kind of
/// slash and with %20 and the like decoded; then, since the path may be of its maker's machine,
/// its last folder and its name alone, beside the model, in the folders beside the model and in the
/// model's own "textures" and the like. Letter case counts only where two files differ by nothing
/// else.
/// @param beside  folder of the file that names it, from the model's, where it is another one: its
///                places come first
FoundPicture find_picture(const std::string& name, const std::filesystem::path& model,
                          RecordingIo& io, const std::filesystem::path& beside = {});

/// The whole path of another file that the model's file names, looked for in the same way, but in
/// no folder that is not named.
std::optional<std::filesystem::path> find_beside(const std::string& name,
                                                 const std::filesystem::path& model,
                                                 RecordingIo& io);

}  // namespace rakelight
