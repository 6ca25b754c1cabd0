#version 430 core
// Before curvature.comp and smooth.comp: what they look up of a pixel's surface, as one vector.
layout(local_size_x = 32, local_size_y = 8) in;
#include surface.glsl
layout(std430, binding = 1) writeonly restrict buffer Stored {
    vec4 stored[];  // normal, lift
};

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    ivec2 size = textureSize(lift_mm, 0);
    if (any(greaterThanEqual(pixel, size))) return;
    Surface here = surface_at(pixel);
    stored[pixel.y * size.x + pixel.x] = vec4(here.normal, here.lift);
}
