#pragma once
// The forms of a deep subject in a shallow relief: slopes are squeezed, fine forms keep theirs.

#include "image/plane.hpp"

namespace rakelight {

/// Slopes are mm of height for a mm of the picture.
struct CompressSettings {
    double squeeze = 3.0;    ///< k: a slope m becomes ln(1 + k m) / k; 0: slopes stay
    double detail = 1.0;     ///< 0: fine forms get no more than their share; 1: the usual gain
    double detail_mm = 0.3;  ///< size of the finest forms that are lifted, > 0
    double lip_mm = 0.2;     ///< most that is left of a depth step, before the whole is scaled
};

/// The subject's heights, compressed by their gradients (Fattal, Lischinski and Werman 2002,
/// "Gradient Domain High Dynamic Range Compression", gave the idea; Weyrich et al. 2007, "Digital
/// Bas-Relief from 3D Scenes", took it to reliefs):
///   1. differences between neighbouring pixels become slopes; what is steeper than 8 is a depth
///      step, of which a lip is left, so that what is before stays before;
///   2. slopes are squeezed as CompressSettings says;
///   3. they are split by Gaussians of detail_mm and 3.3 detail_mm: the finest forms are multiplied
///      by 1 + detail, the middle ones by 1 + detail / 2, what is left is squeezed once more;
///   4. the heights whose slopes come nearest to these, in least squares, are found.
/// @param height_mm   toward the viewer; where coverage is 0 it is not read
/// @param coverage    share of each pixel that the subject covers; the size of `height_mm`
/// @param px_per_mm   > 0
/// @return 0 at the lowest point of the subject, 1 at the highest; 0 outside. A flat subject is 0.
Plane compressed_heights(const Plane& height_mm, const Plane& coverage, double px_per_mm,
                         const CompressSettings& settings);

}  // namespace rakelight
