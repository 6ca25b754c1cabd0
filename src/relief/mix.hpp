#pragma once
// Two images mixed into one, value by value.

#include "image/plane.hpp"
#include "scene/relief_settings.hpp"

namespace rakelight {

/// B(Cb, Cs) of the specification that MixMode names.
/// @param mode   not add, which is none of the specification's
/// @param below  Cb, the backdrop, 0..1
/// @param above  Cs, the source, 0..1
/// @return 0..1
float mixed(MixMode mode, float below, float above);

/// What lies above, mixed and then laid over what lies below, which is opaque: the specification's
/// section 10, Co = (1 - s) Cb + s B(Cb, Cs).
/// @param below  0..1; changed in place
/// @param above  0..1; the size of `below`
/// @param share  s of each pixel, 0..1; the size of `below`
void mix_onto(Plane& below, const Plane& above, const Plane& share, MixMode mode);

}  // namespace rakelight
