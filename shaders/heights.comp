#version 430 core
// Before occlusion.comp: the height of every pixel, with a margin that holds no surface on all
// sides, so that a look-up needs no test.
layout(local_size_x = 32, local_size_y = 8) in;
#include horizon.glsl
layout(std430, binding = 1) writeonly restrict buffer Heights {
    float heights[];
};
uniform sampler2D lift_mm;
uniform int margin_px;
uniform int stride;

void main() {
    ivec2 at = ivec2(gl_GlobalInvocationID.xy);
    ivec2 size = textureSize(lift_mm, 0) + 2 * margin_px;
    if (any(greaterThanEqual(at, size))) return;
    ivec2 pixel = at - margin_px;
    bool inside = all(greaterThanEqual(pixel, ivec2(0))) &&
                  all(lessThan(pixel, textureSize(lift_mm, 0)));
    float lift = inside ? texelFetch(lift_mm, pixel, 0).r : 0.0;
    heights[at.y * stride + at.x] = height_of(lift);
}
