#pragma once
// Which objects an FBX file hides. The importer passes over the property. Private to model/.

#include <optional>
#include <string>
#include <vector>

#include "model/rig/rig.hpp"

namespace rakelight {

/// The file, binary or text, with those properties that hide an object written such that the
/// importer puts them into the metadata of its node; as long as before, since in a binary file each
/// element says where it ends. Empty when it hides nothing.
std::optional<std::string> with_visibility(std::string fbx);

/// For each of the rig's nodes, whether it is hidden, when the file was read by way of
/// with_visibility.
std::vector<bool> hidden_nodes(const Rig& rig);

}  // namespace rakelight
