#version 430 core
// contour.frag for compute shaders, over rows of the picture whose samples tile.comp has stored.
layout(local_size_x = 32, local_size_y = 4) in;
layout(std430, binding = 5) readonly restrict buffer SampleLifts {
    float sample_lifts[];
};
layout(r32f, binding = 0) uniform writeonly restrict image2D strength;
uniform sampler2D lift_range_mm;
uniform ivec2 stored_samples;  // columns and rows
uniform int first_row;         // that is drawn
uniform int end_row;

float sample_at(ivec2 at) {
    if (any(lessThan(at, ivec2(0))) || any(greaterThanEqual(at, stored_samples))) return 0.0;
    return sample_lifts[at.y * stored_samples.x + at.x];
}

vec2 range_at(ivec2 pixel) {
    return texelFetch(lift_range_mm, clamp(pixel, ivec2(0), textureSize(lift_range_mm, 0) - 1),
                      0).rg;
}

#include contour.glsl

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy) + ivec2(0, first_row);
    if (pixel.x >= imageSize(strength).x || pixel.y >= end_row) return;
    imageStore(strength, pixel, vec4(strength_at(pixel)));
}
