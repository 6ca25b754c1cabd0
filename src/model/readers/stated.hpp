#pragma once
// What a file says of its own unit and axes where the general importer does not pass it on. Private
// to model/.

#include <string>
#include <string_view>

#include "model/mesh.hpp"

namespace rakelight {

/// Puts what the file states in place of its format's convention: up, front, mm_per_unit and their
/// reasons. Leaves alone what it does not state, or states in a way that is not understood.
/// @param format  as in ModelFacts::format
/// @param text    the file, in UTF-8, unpacked if it is packed; its start is enough
void apply_stated(const std::string& format, std::string_view text, ModelFacts& facts);

}  // namespace rakelight
