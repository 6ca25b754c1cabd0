#pragma once
// What of the subject is visible, measured on the rendered rows as they come.

#include <cstdint>
#include <limits>
#include <vector>

#include "framing/blank_masks.hpp"
#include "framing/camera.hpp"
#include "render/renderer.hpp"

namespace rakelight {

struct VisibleSubject {
    std::uint64_t pixels = 0;  ///< at least partly covered
    double area_mm2 = 0.0;     ///< of the silhouette, inside the picture
    double near_mm = 0.0;      ///< z of the nearest visible pixel, away from the viewer positive
    double far_mm = 0.0;
    double field_share = 0.0;    ///< of the field's area that the subject covers
    double over_hole_mm2 = 0.0;  ///< of the subject where the hole will be
    PixelRect box;               ///< of its pixels
};

class VisibleMeter {
public:
    explicit VisibleMeter(double px_per_mm) : px_per_mm_(px_per_mm) {}

    /// @param masks  of the same rows
    void add(const RenderedPlanes& rows, const std::vector<BlankMask>& masks, int first_row);

    /// After the last row. Throws Error(unusable_picture) when no pixel is covered, or none inside
    /// the field.
    VisibleSubject subject() const;

private:
    double px_per_mm_;
    VisibleSubject seen_;
    double low_mm_ = std::numeric_limits<double>::max();
    double high_mm_ = std::numeric_limits<double>::lowest();
    double covered_px_ = 0.0;
    double covered_field_px_ = 0.0;
    double covered_hole_px_ = 0.0;
    double field_px_ = 0.0;
};

/// A plate that faces the viewer squarely is flat but for the rounding of single precision, which
/// depth would spread over all codes and a printer would show as bumps. When the visible depth is
/// no more than that, all of it becomes the near end.
/// @param whole_mm  the depth of the whole subject, hidden parts included
void flatten_rounding(VisibleSubject& visible, double whole_mm);

}  // namespace rakelight
