#pragma once
// Pictures of a glTF file that only an extension names. Private to model/.

#include <optional>
#include <string>
#include <string_view>

namespace rakelight {

/// How many first bytes of a .gltf or .glb file hold its JSON; all of them for a .gltf.
/// @param start  20 bytes at least, where the file has them
std::size_t gltf_json_end(std::string_view start);

/// Whether the JSON names an extension of with_texture_sources.
bool may_lack_texture_sources(std::string_view json);

/// The importer knows a texture's `source` alone. A file whose textures have none gets it from
/// EXT_texture_webp, MSFT_texture_dds or KHR_texture_basisu, the first that is there; a texture
/// with a source of its own keeps it, which these extensions mean as the one that everybody can
/// read. Returns the file with another JSON; nothing where nothing changes or there is no JSON.
std::optional<std::string> with_texture_sources(const std::string& file);

}  // namespace rakelight
