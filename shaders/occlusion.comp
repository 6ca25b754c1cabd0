#version 430 core
// occlusion.frag for compute shaders: the same slices and formulas. Heights come from a buffer,
// which a GPU reads several times faster than a texture, and taps are steps within it.
layout(local_size_x = 32, local_size_y = 8) in;
const int MAX_SLICES = 12;
const int MAX_TAPS = 1000;

layout(std140) uniform Walk {
    vec4 slices[MAX_SLICES];  // direction (x right, y up); quadrature weight; end of its taps
    vec4 taps[MAX_TAPS];      // step in the buffer, bits of an int; share of the next pixel; one by
                              // the distance, 1/mm; limit_at it
};
#include horizon.glsl
layout(std430, binding = 1) readonly restrict buffer Heights {
    float heights[];
};
layout(std430, binding = 2) writeonly restrict buffer OpenShares {
    float open_shares[];
};
uniform sampler2D normal_coverage;
uniform ivec2 size_px;
uniform int stride;  // of the heights
uniform int slice_count;
uniform int margin_px;

vec2 heights_at(int ahead, int behind) {
    return vec2(heights[ahead], heights[behind]);
}

vec2 horizon_of(int first, int end, int here_at, int next, float here, Look look, Cut cut) {
    vec2 horizon = vec2(NO_HORIZON);  // ahead and behind
    for (int k = first; k < end; ++k) {
        vec4 tap = taps[k];
        int ahead = here_at + floatBitsToInt(tap.x);
        int behind = here_at - floatBitsToInt(tap.x);
        vec2 height = heights_at(ahead, behind);
        if (tap.y != 0.0) height += tap.y * (heights_at(ahead + next, behind - next) - height);
        horizon = max(horizon, slopes_to(height, here, tap.z, tap.w, look, cut));
    }
    return horizon;
}

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size_px))) return;
    int here_at = (pixel.y + margin_px) * stride + pixel.x + margin_px;
    float here = heights[here_at];
    float share = 1.0;
    if (here != NO_SURFACE_MM) {
        vec3 normal = texelFetch(normal_coverage, pixel, 0).xyz;
        Look look = look_at(pixel, here, normal);
        vec2 closed = vec2(0.0);
        int first = 0;
        for (int s = 0; s < slice_count; ++s) {
            vec2 along = slices[s].xy;
            Cut cut = cut_along(along, look, normal);
            int next = abs(along.x) >= abs(along.y) ? -stride : 1;
            int end = int(slices[s].w);
            vec2 horizon = horizon_of(first, end, here_at, next, here, look, cut);
            closed += slices[s].z * closed_and_all(horizon, look, cut);
            first = end;
        }
        share = clamp(1.0 - closed.x / max(closed.y, 1e-30), 0.0, 1.0);
    }
    open_shares[pixel.y * size_px.x + pixel.x] = share;
}
