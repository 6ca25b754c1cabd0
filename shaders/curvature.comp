#version 430 core
// curvature.frag for compute shaders.
#define FROM_BUFFER
layout(local_size_x = 32, local_size_y = 4) in;
#include surface.glsl
#include curvature.glsl
layout(std430, binding = 2) writeonly restrict buffer Trusted {
    vec2 trusted[];
};

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size_px))) return;
    trusted[pixel.y * size_px.x + pixel.x] = fit_at(pixel);
}
