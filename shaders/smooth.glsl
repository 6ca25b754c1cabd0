// Sums under a Gaussian along a row or a column, each as far as it is of one piece with the pixel:
// neither side of a depth step sees the other. After rows and columns, the sum of curvatures by the
// sum of trusts is the mean.
//
// src/render/curvature_processor.cpp does the same: change both.
const int MAX_WEIGHTS = 1024;
layout(std140) uniform Gaussian {
    vec4 weights[MAX_WEIGHTS / 4];
};
uniform int weight_count;
uniform ivec2 along;  // (1, 0) or (0, 1)

vec2 smoothed_at(ivec2 pixel) {
    Surface here = surface_at(pixel);
    if (here.lift <= 0.0) return vec2(0.0);
    vec2 lean = lean_at(pixel);
    vec2 sums = value_at(pixel);
    for (int k = 1 - weight_count; k < weight_count; ++k) {
        if (k == 0) continue;
        Surface there = surface_at(pixel + k * along);
        if (there.lift <= 0.0) continue;
        float weight = weights[abs(k) / 4][abs(k) % 4];
        weight *= one_piece(here, lean, there, offset_mm(k * along, there.lift));
        sums += weight * value_at(pixel + k * along);
    }
    return sums;
}
