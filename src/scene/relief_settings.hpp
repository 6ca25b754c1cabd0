#pragma once
// What [relief] says: how the passes become one height map.

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace rakelight {

/// How a layer is laid over what lies below it: the separable blend modes of W3C "Compositing and
/// Blending Level 1", section 10.1, by its names, and a sum in mm.
enum class MixMode {
    normal,
    multiply,
    screen,
    overlay,
    darken,
    lighten,
    hard_light,
    soft_light,
    difference,
    add,
};

/// What a layer's values are made from.
enum class ReliefSource {
    forms,       ///< the depth, compressed as ReliefSettings::forms says
    depth,       ///< 0 at the farthest visible point, 1 at the nearest
    occlusion,   ///< 1: fully open
    curvature,   ///< 0.5: flat, 1: convex, 0: hollow
    silhouette,  ///< share of the pixel that the subject covers
    contour,     ///< outline and depth steps
};

/// v becomes t^(1 / gamma), t = (v - black) / (white - black) kept within 0..1. With white below
/// black the image is reversed.
struct Levels {
    double black = 0.0;
    double white = 1.0;  ///< not black
    double gamma = 1.0;  ///< > 0; above 1 the middle gets lighter
};

/// One layer: source, blur, levels, curve, in this order, then laid over the layers before it.
struct ReliefLayer {
    ReliefSource source = ReliefSource::forms;
    double blur_mm = 0.0;  ///< sigma of a Gaussian, within the subject
    Levels levels;
    /// Black and white from the image: so many percent of the subject lie beyond each.
    std::optional<double> clip_percent;
    std::vector<std::array<double, 2>> curve;  ///< from value to value, the first rising
    MixMode mix = MixMode::normal;
    double opacity = 1.0;
    double amount_mm = 0.0;  ///< of MixMode::add: height that value 1 adds
    std::optional<ReliefSource> mask;
    bool mask_reversed = false;
};

/// How the forms of a deep subject are kept in a shallow relief, see relief/compress.hpp. Slopes
/// are mm of height for a mm of the picture.
struct FormSettings {
    double squeeze = 3.0;  ///< k: a slope m becomes ln(1 + k m) / k; 0: slopes stay
    double detail = 1.0;   ///< 0: fine forms get no more than their share
    std::optional<double>
        detail_mm;                 ///< size of the finest forms that are lifted; else of the blank
    std::optional<double> lip_mm;  ///< most that is left of a depth step; else of the blank
};

struct ReliefSettings {
    double height_mm = 2.0;  ///< of the highest point over the lowest
    double base_mm = 0.0;    ///< of the lowest point over the field
    bool sunk = false;       ///< codes reversed: a mould, or a panel that is lit from behind
    bool mirrored = false;   ///< left and right exchanged: a stamp, or a mould
    FormSettings forms;
    std::vector<ReliefLayer> layers;  ///< never empty once read
};

}  // namespace rakelight
