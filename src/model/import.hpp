#pragma once
// Reading a model file with Assimp. Runs in the child process only. Private to model/.

#include <filesystem>

#include "model/recording_io.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// Reads all triangles of the file with the transforms of their nodes applied.
/// Throws Error(bad_model), without the file's name, when the extension is not known or the
/// importer refuses the file; std::bad_alloc when memory runs out.
Soup read_soup(const std::filesystem::path& file, RecordingIo& io);

}  // namespace rakelight
