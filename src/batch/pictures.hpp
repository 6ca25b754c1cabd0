#pragma once
// From planes of physical values to pictures of codes, each with all that is needed to read it
// back.

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "framing/blank_masks.hpp"
#include "framing/frame.hpp"
#include "image/plane.hpp"
#include "render/renderer.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// A named number of an encoding, with its unit in the name: {"near_mm", -4.2}.
using NamedNumber = std::pair<std::string, double>;

/// One pass, ready to be written.
struct Picture {
    std::string name;                     ///< "depth", "part-horn", "blank-rim"
    std::string file;                     ///< "depth.png"
    std::string meaning;                  ///< of a value, one line
    std::string encoding;                 ///< the formula from value to code and back, one line
    std::vector<NamedNumber> numbers;     ///< the formula's constants and its worst error
    std::vector<NamedNumber> statistics;  ///< over the visible subject
    std::uint64_t clipped = 0;
    bool clipping_allowed = false;
    std::string enough;  ///< the fixed range that would clip nothing, as a scene writes it
    Image16 image;
};

/// What is visible, measured on the rendered planes.
struct VisibleSubject {
    std::uint64_t pixels = 0;  ///< at least partly covered
    double area_mm2 = 0.0;     ///< of the silhouette, inside the picture
    double near_mm = 0.0;      ///< z of the nearest visible pixel, away from the viewer positive
    double far_mm = 0.0;
    double field_share = 0.0;    ///< of the field's area that the subject covers
    double over_hole_mm2 = 0.0;  ///< of the subject where the hole will be
    PixelRect box;               ///< of its pixels
};

/// Throws Error(unusable_picture) when no pixel is covered, or none inside the field.
VisibleSubject measure_visible(const RenderedPlanes& planes, const std::vector<BlankMask>& masks,
                               double px_per_mm);

/// A plate that faces the viewer squarely is flat but for the rounding of single precision, which
/// depth would spread over all codes and a printer would show as bumps. When the visible depth is
/// no more than that, all of it becomes one.
/// @param whole_mm  the depth of the whole subject, hidden parts included
void flatten_rounding(RenderedPlanes& planes, VisibleSubject& visible, double whole_mm);

/// The reach that a scene's occlusion gets, and the step of its contour, when it does not say.
double occlusion_reach_mm(const OcclusionPass& pass, const BlankGeometry& blank);
double contour_step_mm(const ContourPass& pass, const BlankGeometry& blank);

/// All passes that the scene asks for, in the order of the design's table; encoded on all cores.
/// @param part_names  of the masks, in the planes' order
std::vector<Picture> make_pictures(const Scene& scene, const BlankGeometry& blank,
                                   const std::vector<BlankMask>& masks,
                                   const RenderedPlanes& planes, const VisibleSubject& visible,
                                   const std::vector<std::string>& part_names);

/// Throws Error(unusable_picture) when a fixed range clips and the scene does not allow it, with
/// the count and the range that would hold everything. Adds a warning where it is allowed.
void refuse_clipping(const std::vector<Picture>& pictures, std::vector<std::string>& warnings);

}  // namespace rakelight
