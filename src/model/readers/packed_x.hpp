#pragma once
// X (DirectX) files that are packed. Private to model/.

#include <string_view>

namespace rakelight {

/// Whether these bytes begin an X file of the packed kinds, "tzip" and "bzip".
bool begins_packed_x(std::string_view bytes);

/// Throws Error(bad_model), without the file's name, when the file's blocks unpack to more than a
/// model of its size could (ZipPackage has the same measure), or to more than the importer can
/// count: it counts in 32 bits, and beyond writes past the end of its own memory.
void refuse_packed_bomb(std::string_view file);

}  // namespace rakelight
