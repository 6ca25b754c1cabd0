#pragma once
// What a glTF 2.0 file says of its rig and the importer leaves out. Private to model/.

#include <filesystem>

#include "model/readers/recording_io.hpp"
#include "model/rig/rig.hpp"

namespace rakelight {

/// Reads from the file itself:
/// - which node each joint of a skin is (the importer goes by names, which joints need not have);
/// - the weights of shapes that a node states in place of its mesh's;
/// - its clips: nodes that share a name, steps, curves and weights below 0 are lost on the
/// importer. Where the file cannot be followed, the rig stays as the importer has it.
void complete_gltf_rig(const std::filesystem::path& file, RecordingIo& io, Rig& rig);

}  // namespace rakelight
