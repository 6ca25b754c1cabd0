#version 410 core
// SAMPLES x SAMPLES samples to one pixel: the mean of the covered ones alone, so that the
// background never bleeds in, and their share as coverage.
uniform sampler2D sample_lift_mm;
uniform sampler2D sample_normal;
uniform ivec2 first_pixel;  // of the target that the tile's sample (0, 0) belongs to

layout(location = 0) out float lift_mm;          // 0: nothing there
layout(location = 1) out vec4 normal_coverage;   // view space; share of the pixel's area
layout(location = 2) out vec2 lift_range_mm;     // lowest and highest covered sample; the lowest is
                                                 // negative where some samples are uncovered

#include octahedral.glsl

void main() {
    ivec2 corner = (ivec2(gl_FragCoord.xy) - first_pixel) * SAMPLES;
    float lift_sum = 0.0;
    vec3 normal_sum = vec3(0.0);
    int covered = 0;
    vec2 range = vec2(1e30, 0.0);
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            ivec2 at = corner + ivec2(x, y);
            float lift = texelFetch(sample_lift_mm, at, 0).r;
            if (lift > 0.0) {
                range = vec2(min(range.x, lift), max(range.y, lift));
                lift_sum += lift;
                normal_sum += decode_octahedral(
                    texelFetch(sample_normal, at, 0).rg * 2.0 - 1.0);
                ++covered;
            }
        }
    }
    lift_mm = covered > 0 ? lift_sum / float(covered) : 0.0;
    vec3 normal = covered > 0 ? normalize(normal_sum) : vec3(0.0, 0.0, 1.0);
    normal_coverage = vec4(normal, float(covered) / float(SAMPLES * SAMPLES));
    bool full = covered == SAMPLES * SAMPLES;
    lift_range_mm = covered == 0 ? vec2(0.0) : vec2(full ? range.x : -range.x, range.y);
}
