#pragma once
// COLLADA as the importer understands it. Private to model/.

#include <optional>
#include <string>
#include <string_view>

namespace rakelight {

/// The document with what the importer ends on, or takes for something else, said in another way:
/// - <skew>, at which it gives up, becomes the equal <matrix>;
/// - <transparency>, where there are pictures, is left out. It only makes all of a surface thinner,
///   and without it the importer's opacity tells whether a <transparent> is turned round.
/// Empty when there is nothing to change, and for what is no COLLADA at all. Throws
/// Error(bad_model), without the file's name, for a <skew> that is none.
std::optional<std::string> prepared_collada(std::string_view text);

}  // namespace rakelight
