#version 410 core
// Sums under a Gaussian along a row or a column, each as far as it is of one piece with the pixel:
// neither side of a depth step sees the other. After rows and columns, the sum of curvatures by the
// sum of trusts is the mean.
//
// src/render/curvature_processor.cpp does the same: change both.
#include surface.glsl
const int MAX_WEIGHTS = 1024;
layout(std140) uniform Gaussian {
    vec4 weights[MAX_WEIGHTS / 4];
};
uniform sampler2D values;
uniform int weight_count;
uniform ivec2 along;  // (1, 0) or (0, 1)
layout(location = 0) out vec2 smoothed;

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    smoothed = vec2(0.0);
    Surface here = surface_at(pixel);
    if (here.lift <= 0.0) return;
    vec2 lean = lean_at(pixel);
    smoothed = texelFetch(values, pixel, 0).rg;
    for (int k = 1 - weight_count; k < weight_count; ++k) {
        if (k == 0) continue;
        Surface there = surface_at(pixel + k * along);
        if (there.lift <= 0.0) continue;
        float weight = weights[abs(k) / 4][abs(k) % 4];
        weight *= one_piece(here, lean, there, offset_mm(k * along, there.lift));
        smoothed += weight * texelFetch(values, pixel + k * along, 0).rg;
    }
}
