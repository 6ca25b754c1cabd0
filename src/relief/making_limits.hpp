#pragma once
// What of a height map a process cannot make: ridges and grooves too narrow for its tools, walls
// too steep, what stands too high, and what its steps round off.

#include <cmath>
#include <cstdint>
#include <optional>

#include "image/plane.hpp"
#include "relief/morphology.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// A finished relief and where its piece is.
struct PieceMap {
    const Plane& height_mm;  ///< over the field; anything outside the piece
    const Plane& piece;      ///< share of the pixel that belongs to the piece
    double px_per_mm;
    HeightBeyond beyond_mm;  ///< beyond the picture
};

/// How much of the piece lies beyond one limit.
struct LimitFigures {
    double mm2 = 0.0;
    double share = 0.0;  ///< of the piece's area
    double worst = 0.0;  ///< mm lost, filled or too high; of walls the steepest there is, degrees
};

/// 0 where the piece can be made, and outside it. Planes and figures of limits that are not set are
/// empty.
struct MakingLimits {
    Plane ridge_lost_mm;     ///< what the opening by a disc of ridge_mm takes away
    Plane groove_filled_mm;  ///< what the closing by the cutter of groove_mm adds
    Plane too_tall_mm;       ///< over tallest_mm
    Plane too_steep;         ///< 1 where the wall is steeper than wall_deg
    std::optional<LimitFigures> ridges, grooves, tall, walls;
};

/// Ridges and grooves count where more than least_mm of height goes, and still does when what is
/// left one pixel beside is taken instead: that near the map knows no edge. Walls are steeper by
/// more than 0.01 degrees, slopes being those of normals_of, but one-sided at the piece's edge,
/// which is no wall of the relief. Tall is what is higher by more than a hundred-thousandth of a
/// mm. Pixels that the piece's edge cuts count as made.
/// @param least_mm  see least_loss_mm
MakingLimits making_limits(const MakingSettings& settings, const PieceMap& map, double least_mm);

/// Steps of equal height from low_mm up; a height becomes the nearest.
struct Steps {
    double low_mm = 0.0;
    double step_mm = 1.0;

    std::int64_t nearest(double height_mm) const {
        return std::llround((height_mm - low_mm) / step_mm);
    }
    /// A height less its step: from -step_mm / 2 to step_mm / 2.
    double beside_mm(double height_mm) const {
        const double place = (height_mm - low_mm) / step_mm;
        return (place - static_cast<double>(std::llround(place))) * step_mm;
    }
};

/// Those of the settings, over heights from low to high: of step_mm, or as many as `steps` says
/// with one at each end. Empty: none are set.
std::optional<Steps> steps_of(const MakingSettings& settings, double low_mm, double high_mm);

/// What is lost and filled counts above this: the settings' least_mm, else half a step, else 0.01
/// mm, which is what 8 bits tell apart over 2.56 mm.
double least_loss_mm(const MakingSettings& settings, const std::optional<Steps>& steps);

/// What steps make of the pixels that count.
struct StepFigures {
    std::int64_t used = 0;    ///< different steps
    double rms_mm = 0.0;      ///< of what lies beside them, by area
    double largest_mm = 0.0;  ///< of it
    double mm2 = 0.0;         ///< the area that counts
};

/// @param share  weight of each pixel, 0..1
StepFigures step_figures(const Steps& steps, const Plane& height_mm, const Plane& share,
                         double px_per_mm);

}  // namespace rakelight
