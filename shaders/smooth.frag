#version 410 core
// The Gaussian mean of curvature along a row or a column: see smooth.glsl.
#include surface.glsl
uniform sampler2D values;
layout(location = 0) out vec2 smoothed;

vec2 value_at(ivec2 pixel) {
    return texelFetch(values, pixel, 0).rg;
}

#include smooth.glsl

void main() {
    smoothed = smoothed_at(ivec2(gl_FragCoord.xy));
}
