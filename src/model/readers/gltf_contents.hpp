#pragma once
// How much a glTF file says that it holds, before any of it is read. Private to model/.

#include <cstdint>
#include <filesystem>
#include <optional>

#include "model/import_bytes.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

struct GltfContents {
    SurfaceSize in_file;             ///< each mesh once
    SurfaceSize stored;              ///< each as often as it is shown and no copy will do
    std::uint64_t buffer_bytes = 0;  ///< of all buffers, wherever they lie
    std::uint64_t texels = 0;  ///< of all pictures that hold surface detail, each as often as a
                               ///< material uses it
    std::uint64_t largest_texels = 0;  ///< of the largest of them
};

/// From the file's JSON: the counts of its accessors, the places of its nodes, the lengths of its
/// buffers; and from the first bytes of its pictures. A place is taken to be a copy where it may
/// be one. Nothing for a file that does not hold together: its importer will say why.
/// Runs in the child process only.
/// @param maps  pictures that hold surface detail will be read
std::optional<GltfContents> gltf_contents(const std::filesystem::path& file, RecordingIo& io,
                                          bool maps);

}  // namespace rakelight
