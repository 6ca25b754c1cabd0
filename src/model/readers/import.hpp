#pragma once
// Reading a model file: by a reader of our own where it is of a plain format, else with Assimp.
// Runs in the child process only. Private to model/.

#include <filesystem>

#include "model/readers/recording_io.hpp"
#include "model/soup.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// Reads the file by a reader of our own if that can, else with the importer.
/// @param reading  what nobody will ask for is left out: the file's own normals
/// Throws as read_with_importer does.
Soup read_soup(const std::filesystem::path& file, RecordingIo& io, const ReadingSettings& reading);

/// Reads all triangles of the file, at the moment that the settings ask for, with the transforms of
/// their nodes and bones applied.
/// Throws Error(bad_model), without the file's name, when the extension is not known or the
/// importer refuses the file; std::bad_alloc when memory runs out.
Soup read_with_importer(const std::filesystem::path& file, RecordingIo& io,
                        const ReadingSettings& reading);

}  // namespace rakelight
