#pragma once
// The part of the flat mesh file that is JSON. Private to model/.

#include <string>
#include <string_view>

#include "model/flat_mesh.hpp"
#include "model/mesh_file.hpp"

namespace rakelight {

/// Text that is not UTF-8 has its wrong bytes replaced.
std::string to_json(const FlatMesh& mesh);

/// Fills parts, facts, side files, hash and size. Throws nlohmann::json::exception when the text is
/// no JSON or lacks something.
void from_json(std::string_view text, Mesh::Mapping& mapping);

}  // namespace rakelight
