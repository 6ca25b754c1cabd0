#pragma once
// The proof sheet of a scene: its passes as a person wants to see them.

#include <cstddef>
#include <vector>

#include "batch/job.hpp"

namespace rakelight {

/// The bytes of an 8-bit PNG: the relief under a low lamp, the passes side by side, the blank's
/// regions in one panel. Curvature is shown with its contrast raised, as the caption says; the
/// pass itself is not.
std::vector<std::byte> proof_sheet(const PreparedScene& prepared,
                                   const std::vector<Picture>& pictures,
                                   const std::vector<BlankMask>& masks,
                                   const RenderedPlanes& planes);

}  // namespace rakelight
