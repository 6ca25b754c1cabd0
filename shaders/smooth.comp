#version 430 core
// smooth.frag for compute shaders.
#define FROM_BUFFER
layout(local_size_x = 32, local_size_y = 4) in;
#include surface.glsl
layout(std430, binding = 2) readonly restrict buffer Values {
    vec2 values[];
};
layout(std430, binding = 3) writeonly restrict buffer Smoothed {
    vec2 smoothed[];
};

vec2 value_at(ivec2 pixel) {
    return values[pixel.y * size_px.x + pixel.x];
}

#include smooth.glsl

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size_px))) return;
    smoothed[pixel.y * size_px.x + pixel.x] = smoothed_at(pixel);
}
