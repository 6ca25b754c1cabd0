#pragma once
// DXF as the importer understands it. Private to model/.

#include <optional>
#include <string>

namespace rakelight {

/// The file with what the importer loses or misplaces written in another way:
/// - faces of polyface meshes name all their corners without a sign (a minus hides an edge, and the
///   importer would pass over the corner);
/// - each block that is inserted stands where it is inserted, turned, scaled, in rows and columns,
///   with the blocks that are inserted in it (of all that the importer has no more than the place).
/// Empty when there is nothing to change. Throws Error(bad_model), without the file's name, when
/// few inserts stand for too many, or a block holds itself.
std::optional<std::string> prepared_dxf(const std::string& text);

}  // namespace rakelight
