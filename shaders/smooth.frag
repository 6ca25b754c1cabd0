#version 410 core
// Sums under a Gaussian along a row or a column that stop at depth steps: going away from the pixel,
// everything from the first step on has no weight. After rows and columns, the sum of curvatures by
// the sum of trusts is the mean.
//
// src/render/step_smoothing.cpp does the same: change both.
#include surface.glsl
const int MAX_WEIGHTS = 1024;
layout(std140) uniform Gaussian {
    vec4 weights[MAX_WEIGHTS / 4];
};
uniform sampler2D values;
uniform int weight_count;
uniform ivec2 along;  // (1, 0) or (0, 1)
layout(location = 0) out vec2 smoothed;

// A rise of more than one and a half pixels that the normals explain by less than a half. `from` is
// the one nearer to the picture's top left, and its view ray counts.
bool step_between(Surface from, Surface to, ivec2 from_pixel) {
    float rise = to.lift - from.lift;
    if (abs(rise) <= 1.5 * mm_per_px) return false;
    vec3 chord = vec3(vec2(along.x, -along.y) * mm_per_px - rise * lean_at(from_pixel), rise);
    vec3 sum = from.normal + to.normal;
    float explained = dot(chord, sum);
    return explained * explained > 0.25 * dot(chord, chord) * dot(sum, sum);
}

void add_pixel(ivec2 at, int k, inout vec2 sums) {
    float weight = weights[k / 4][k % 4];
    sums += weight * texelFetch(values, at, 0).rg;
}

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    smoothed = vec2(0.0);
    Surface here = surface_at(pixel);
    if (here.lift <= 0.0) return;
    vec2 sums = texelFetch(values, pixel, 0).rg;
    Surface last = here;
    for (int k = 1; k < weight_count; ++k) {
        Surface next = surface_at(pixel + k * along);
        if (next.lift <= 0.0 || step_between(last, next, pixel + (k - 1) * along)) break;
        add_pixel(pixel + k * along, k, sums);
        last = next;
    }
    last = here;
    for (int k = 1; k < weight_count; ++k) {
        Surface next = surface_at(pixel - k * along);
        if (next.lift <= 0.0 || step_between(next, last, pixel - k * along)) break;
        add_pixel(pixel - k * along, k, sums);
        last = next;
    }
    smoothed = sums;
}
