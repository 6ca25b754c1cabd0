#pragma once
// Whether texts that the importer reads as far as they go are all there. Private to model/.

#include <filesystem>
#include <string_view>

namespace rakelight {

/// OFF: as many lines of vertices and faces as its head promises, and each face of vertices that
/// are there; the importer would put the last vertex in place of one that is not.
/// Throws Error(bad_model) without the file's name. Says nothing of a head that is not understood.
void check_whole_off(std::string_view text);

/// DXF: the last of its sections has its end. One that lacks only the mark of the file's end lacks
/// nothing of the model. Throws Error(bad_model) without the file's name.
void check_whole_dxf(std::string_view text);

/// Either of them, by the extension; nothing for other files and for one that cannot be read.
void check_whole(const std::filesystem::path& file);

}  // namespace rakelight
