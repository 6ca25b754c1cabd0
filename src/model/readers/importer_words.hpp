#pragma once
// What the general importer says and leaves out, in words that help. Private to model/.

#include <assimp/scene.h>

#include <filesystem>
#include <string>
#include <vector>

#include "error.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

/// The Error(bad_model), without the file's name, for a file that the importer refused.
/// @param reason  its own words; may be empty
Error refusal(const std::string& reason, const std::filesystem::path& file, RecordingIo& io);

/// The same for a file that it read and that has neither faces nor points, or none that it could
/// read.
Error no_surface(const std::string& format, const aiScene& scene);

/// Listens from now on, for good, to what the importer warns of, and collects what changes the
/// surface, in words of ours, each once.
const std::vector<std::string>& importer_warnings();

/// Whether memory ran out since while the importer read something that it then left out.
bool importer_lacked_memory();

}  // namespace rakelight
