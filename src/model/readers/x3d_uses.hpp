#pragma once
// X3D files that use a piece again. Private to model/.

#include <optional>
#include <string>
#include <string_view>

namespace rakelight {

/// The document with a copy of the named node in place of each USE (ISO/IEC 19775-1, section
/// 4.4.3: both are one and the same node). The importer puts what comes after a USE elsewhere, or
/// loses it. Empty when there is no USE in it, or the text is no well-formed XML.
/// Throws Error(bad_model), without the file's name, when the copies grow past all measure.
std::optional<std::string> without_uses(std::string_view text);

}  // namespace rakelight
