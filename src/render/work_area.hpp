#pragma once
// Private to render/: the part of the picture that is worked on, and its maps as rows of floats.

#include "framing/camera.hpp"

namespace rakelight {

/// The part of the pixel plane that is worked on: the subject's box, cut to the picture and what
/// occlusion sees beyond its edges, with one pixel of background all around so that a clamped
/// look-up beyond the edge finds nothing there.
struct WorkArea {
    PixelRect rect;       ///< in the picture's pixels, with the border
    double floor_mm = 0;  ///< view z below everything; lifts are counted from it, all > 0
    double top_mm = 0;    ///< view z above everything

    /// The subject lies beyond everything that the picture's passes look at.
    bool is_empty() const { return rect.width < 3 || rect.height < 3; }
};

/// The visible surface as the passes on the processor read it: rows of the work area from the top,
/// no padding, of its width. No pointer may be null.
struct SurfaceMaps {
    const float* lift_mm = nullptr;          ///< over the floor; 0 where nothing is
    const float* normal_coverage = nullptr;  ///< four a pixel: unit normal in view space, coverage
    const float* lift_range_mm = nullptr;  ///< two a pixel: lowest and highest covered sample; the
                                           ///< lowest negative where some samples are uncovered
    int width = 0;
    int height = 0;     ///< rows
    int first_row = 0;  ///< of the work area: where the maps begin, when they are a part of it
};

}  // namespace rakelight
