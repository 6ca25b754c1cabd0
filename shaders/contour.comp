#version 430 core
// contour.frag for compute shaders, over rows of the picture whose samples tile.comp has stored.
layout(local_size_x = 32, local_size_y = 4) in;
layout(std430, binding = 6) readonly restrict buffer Samples {
    float samples[];  // lifts
};
layout(std430, binding = 1) writeonly restrict buffer Strengths {
    float strengths[];
};
uniform int width_px;
uniform sampler2D lift_range_mm;
uniform ivec2 stored_samples;  // columns and rows
uniform int first_row;         // that is drawn
uniform int end_row;

float sample_at(ivec2 at) {
    if (any(lessThan(at, ivec2(0))) || any(greaterThanEqual(at, stored_samples))) return 0.0;
    return samples[at.y * stored_samples.x + at.x];
}

vec2 range_at(ivec2 pixel) {
    return texelFetch(lift_range_mm, clamp(pixel, ivec2(0), textureSize(lift_range_mm, 0) - 1),
                      0).rg;
}

#include contour.glsl

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy) + ivec2(0, first_row);
    if (pixel.x >= width_px || pixel.y >= end_row) return;
    strengths[pixel.y * width_px + pixel.x] = strength_at(pixel);
}
