#pragma once
// A glTF 2.0 file in words that the importer knows. Private to model/.

#include <filesystem>
#include <optional>
#include <string>

#include "model/readers/recording_io.hpp"

namespace rakelight {

/// What the importer leaves out of a glTF 2.0 file, or gets wrong, said in another way:
/// - corners, weights and places on pictures that are whole numbers (3.6.2.2, 3.7.3.3 and
///   KHR_mesh_quantization) as floats;
/// - the places of EXT_mesh_gpu_instancing as nodes;
/// - skins without matrices (5.28) with those of the identity;
/// - textures that only EXT_texture_webp, MSFT_texture_dds or KHR_texture_basisu give a picture
///   with that picture; one that has its own keeps it, which they mean as the one for everybody;
/// - the set of coordinates that KHR_texture_transform chooses;
/// - names of buffers with %20 and the like as the file's own name (RFC 3986), where there is none
///   of the name as it stands;
/// - without a byte order mark.
/// Returns the whole file anew; nothing where it may stay as it is or is no sound glTF 2.0.
/// Throws Error(bad_model), without a file name, when it requires an extension (3.12) that changes
/// surfaces and is not known here.
std::optional<std::string> mended_gltf(const std::filesystem::path& file, RecordingIo& io);

}  // namespace rakelight
