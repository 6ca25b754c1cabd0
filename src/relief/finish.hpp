#pragma once
// The relief on its blank: faded into the field, a dome or a dish under it, the rim around it.

#include "framing/blank.hpp"
#include "relief/recipe.hpp"

namespace rakelight {

/// mix_relief, then, with d the depth inside an edge in mm and s(t) = t^2 (3 - 2 t), t kept within
/// 0..1:
/// - edge: times sqrt(1 - (1 - t)^2), t = d / edge_mm from the silhouette's outline, the mean over
///   the pixel;
/// - exergue: times s(d / exergue_mm) above its line, 0 below;
/// - rim: times e + (1 - e) s(d / rim_mm) from the field's edge, e being rim_height_mm() less
///   rim_below_mm over the relief's whole height, at most 1; outside the field times e;
/// - the ground: dome_mm (1 - x^2/a^2 - y^2/b^2) on round and oval fields of half sides a and b,
/// and
///   dome_mm (1 - x^2/a^2) (1 - y^2/b^2) on others, is added, 0 outside the field;
/// - layers of the field are added where the subject is not, or was faded at the exergue; layers of
///   the piece everywhere;
/// - rim: its top at rim_height_mm() in place of what is lower, by its share of the pixel;
/// - outside the blank: nothing. A hole is left as it would be without it.
/// Along the outline and the rim a pixel's share is that of its middle's distance, within one
/// pixel.
/// @param grid  of the planes
Relief finish_relief(const ReliefSettings& settings, const ReliefPlanes& planes,
                     const BlankGeometry& blank, const ImageGrid& grid);

}  // namespace rakelight
