#version 410 core
// The cosine-weighted share of the hemisphere over each point that is open within the reach, by
// horizon integration: Jimenez et al. 2016, "Practical Realtime Strategies for Accurate Indirect
// Occlusion", equations 6 to 10. The picture is a height field: what lies below a visible point is
// taken as solid, as it will be in the struck piece, and a column is cut where it leaves the sphere
// of the reach. Slices and taps are the same for every pixel: no noise, and no filter to hide it.
//
// In perspective the height h = z / (1 - z / eye) stands for z: the projection keeps planes planes,
// and with it the slope in the plane of a slice and the view ray is linear in h over the picture.
//
// occlusion.comp is the same for compute shaders; src/render/occlusion_processor.cpp does the same,
// line by line: change all.
const int MAX_SLICES = 12;
const int MAX_TAPS = 1000;  // the block fits the 16 KiB that OpenGL 4.1 grants

layout(std140) uniform Walk {
    vec4 slices[MAX_SLICES];  // direction (x right, y up); quadrature weight; end of its taps
    vec4 taps[MAX_TAPS];      // whole-pixel offset; share of the next pixel; distance, mm
};
uniform sampler2D lift_mm;
uniform sampler2D normal_coverage;
uniform int slice_count;
uniform float reach_mm;
layout(location = 0) out float open_share;
#include horizon.glsl

float height_at(ivec2 at) {
    ivec2 last = textureSize(lift_mm, 0) - 1;
    return height_of(texelFetch(lift_mm, clamp(at, ivec2(0), last), 0).r);
}

float tap_height(ivec2 at, ivec2 next, float share) {
    float height = height_at(at);
    return share == 0.0 ? height : height + share * (height_at(next) - height);
}

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    float here = height_at(pixel);
    open_share = 1.0;
    if (here == NO_SURFACE_MM) return;
    vec3 normal = texelFetch(normal_coverage, pixel, 0).xyz;
    Look look = look_at(pixel, here, normal);
    vec2 closed = vec2(0.0);  // and the same, were nothing open
    int k = 0;
    for (int s = 0; s < slice_count; ++s) {
        vec2 along = slices[s].xy;
        Cut cut = cut_along(along, look, normal);
        ivec2 next = abs(along.x) >= abs(along.y) ? ivec2(0, -1) : ivec2(1, 0);
        vec2 horizon = vec2(NO_HORIZON);  // ahead and behind
        int end = int(slices[s].w);
        for (; k < end; ++k) {
            ivec2 offset = ivec2(taps[k].xy);
            float share = taps[k].z;
            vec2 height = vec2(tap_height(pixel + offset, pixel + offset + next, share),
                               tap_height(pixel - offset, pixel - offset - next, share));
            float per_mm = 1.0 / taps[k].w;
            float limit = limit_at(reach_mm * per_mm);
            horizon = max(horizon, slopes_to(height, here, per_mm, limit, look, cut));
        }
        closed += slices[s].z * closed_and_all(horizon, look, cut);
    }
    open_share = clamp(1.0 - closed.x / max(closed.y, 1e-30), 0.0, 1.0);
}
