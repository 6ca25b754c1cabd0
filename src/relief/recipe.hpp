#pragma once
// A recipe carried out: from the passes' values to one height map.

#include <vector>

#include "image/plane.hpp"
#include "relief/sources.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// What the layers are made from, whole planes of one size. What no layer asks for may be empty.
struct ReliefPlanes {
    Plane coverage;   ///< share of the pixel that the subject covers
    Plane height_mm;  ///< toward the viewer; where coverage is 0 it is not read
    Plane occlusion;  ///< open share
    Plane curvature;  ///< 1/mm, convex positive
    Plane contour;    ///< 0..1
    Plane undercut_mm;
    Plane steep;                     ///< share of the pixel
    std::vector<SourcePlane> named;  ///< as ReliefSettings::sources
};

/// Which of the passes beside coverage and height a recipe asks for.
struct ReliefNeeds {
    bool occlusion = false;
    bool curvature = false;
    bool contour = false;
    bool undercut = false;
    bool steep = false;
};
ReliefNeeds needs_of(const ReliefSettings& relief);

/// What the whole picture's scale is for settings that the scene leaves out.
struct ReliefScale {
    double px_per_mm;
    double field_shorter_side_mm;
};

/// What one layer did to values that lay beyond its black and white.
struct LayerReport {
    double black = 0.0, white = 1.0;  ///< as used
    double clipped_share = 0.0;       ///< of the subject's pixels
};

constexpr int height_parts = 120;

struct Relief {
    Plane height_mm;  ///< over the field
    /// What codes reach from and to: all heights that the settings allow, found or not.
    double low_mm = 0.0, high_mm = 0.0;
    /// How much of the whole height lies between the subject's 0.5 and 99.5 percentiles, before
    /// (depth alone) and after.
    double depth_range_used = 0.0;
    double range_used = 0.0;
    /// The share of the subject at each of height_parts equal heights, before and after.
    std::vector<double> depth_shares, height_shares;
    std::vector<LayerReport> layers;
};

/// The subject alone, over a level field: heights outside it are 0. Layers beyond the subject are
/// left to finish_relief.
/// Layers are mixed from the first on, over black; then the lowest point of the subject is put to
/// base_mm and the highest to base_mm + height_mm, so that nothing is cut off. Where a pixel is
/// covered in part its height is that share of it. A subject that is level stays level, at base_mm.
Relief mix_relief(const ReliefSettings& settings, const ReliefPlanes& planes,
                  const ReliefScale& scale);

}  // namespace rakelight
