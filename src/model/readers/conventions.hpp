#pragma once
// Which way is up and how long a unit is, format by format. Private to model/.

#include <assimp/scene.h>

#include <filesystem>
#include <string>

#include "model/readers/recording_io.hpp"
#include "model/soup.hpp"

namespace rakelight {

/// Fills format, up, front, mm_per_unit and their reasons, as they are after what the importer did
/// (it turns and scales some formats), and Soup::facet_normals.
/// @param importer  the importer's name for itself, as aiImporterDesc::mName has it
void apply_conventions(const std::string& importer, Soup& soup);

/// The same, and what the file itself states that the importer passes on or drops.
void apply_conventions(const std::string& importer, const aiScene& scene,
                       const std::filesystem::path& file, RecordingIo& io, Soup& soup);

/// The turn from the file's axes to those that the mesh gets: none, but for an FBX file whose axes
/// are left-handed, which is mirrored along its first axis.
aiMatrix4x4 model_from_file(const aiScene& scene);

}  // namespace rakelight
