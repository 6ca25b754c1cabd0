#version 410 core
uniform sampler2D sample_lift_mm;
uniform sampler2D lift_range_mm;
layout(location = 0) out float strength;

float sample_at(ivec2 at) {
    return texelFetch(sample_lift_mm, at, 0).r;
}

vec2 range_at(ivec2 pixel) {
    return texelFetch(lift_range_mm, pixel, 0).rg;
}

#include contour.glsl

void main() {
    strength = strength_at(ivec2(gl_FragCoord.xy));
}
