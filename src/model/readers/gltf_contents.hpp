#pragma once
// How much a glTF file says that it holds, before any of it is read. Private to model/.

#include <cstdint>
#include <filesystem>
#include <optional>

#include "model/import_bytes.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

/// How much of something a file has; what that takes, import_need.cpp reckons.
struct GltfContents {
    std::uint64_t json_bytes = 0;
    std::uint64_t json_values = 0;
    std::uint64_t buffer_bytes = 0;  ///< of all buffers, wherever they lie
    bool counted = false;  ///< what follows; false: something of it does not hold together
    SurfaceSize in_file;   ///< each mesh once
    SurfaceSize stored;    ///< each as often as it is shown and no copy will do
    std::uint64_t nodes = 0;
    std::uint64_t keys = 0;    ///< of its clips, as often as a channel has them
    std::uint64_t texels = 0;  ///< of all pictures that hold surface detail, each as often as a
                               ///< material uses it; by halves where it cuts out
    std::uint64_t largest_texels = 0;  ///< of the largest of them
};

/// From the file's JSON: the counts of its accessors, the places of its nodes; from its buffers
/// their sizes, and from the first bytes of its pictures theirs. A place is taken to be a copy
/// where it may be one. Nothing for a file without JSON: its importer will say why.
/// Runs in the child process only.
std::optional<GltfContents> gltf_contents(const std::filesystem::path& file, RecordingIo& io,
                                          const ReadingSettings& reading);

}  // namespace rakelight
