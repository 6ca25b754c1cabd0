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
// src/render/occlusion_processor.cpp does the same, line by line: change both.
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
#ifdef PERSPECTIVE
uniform float floor_mm;
uniform float eye_mm;
uniform vec2 first_mm;  // on the blank, from the view axis: the centre of target pixel (0, 0)
uniform float mm_per_px;
#endif
layout(location = 0) out float open_share;

const float NO_SURFACE_MM = -1e9;  // so far below that nothing rises out of it
const float NO_HORIZON = -1e18;
const float FALL_BEYOND_REACH = 4.0;

float height_at(ivec2 at) {
    ivec2 last = textureSize(lift_mm, 0) - 1;
    float lift = texelFetch(lift_mm, clamp(at, ivec2(0), last), 0).r;
    if (lift <= 0.0) return NO_SURFACE_MM;
#ifdef PERSPECTIVE
    float z = lift + floor_mm;
    return z / (1.0 - z / eye_mm);
#else
    return lift;
#endif
}

float tap_height(ivec2 at, ivec2 next, float share) {
    float height = height_at(at);
    return share == 0.0 ? height : height + share * (height_at(next) - height);
}

// A rise cut to the highest that lies within the reach. What lies below the reach falls away so
// fast that it hides nothing, but without a jump, which would draw a line on the picture. Holds for
// slopes and for their squares with the sign kept.
vec2 within_reach(vec2 rise, vec2 highest) {
    vec2 cut = min(rise, highest);
    return min(cut, (1.0 + FALL_BEYOND_REACH) * cut + FALL_BEYOND_REACH * highest);
}

// The angle from +x to (x, y), y >= 0: Abramowitz and Stegun, 4.4.49. Drivers' own differ.
float angle_of(float x, float y) {
    const float quarter = 1.57079632679;
    float width = abs(x);
    float t = min(width, y) / max(max(width, y), 1e-30);
    float s = t * t;
    float sum = 0.0028662257;
    sum = sum * s - 0.0161657367;
    sum = sum * s + 0.0429096138;
    sum = sum * s - 0.0752896400;
    sum = sum * s + 0.1065626393;
    sum = sum * s - 0.1420889944;
    sum = sum * s + 0.1999355085;
    sum = sum * s - 0.3333314528;
    float low = t + t * s * sum;
    float from_x = width > y ? low : quarter - low;
    return x < 0.0 ? 2.0 * quarter - from_x : from_x;
}

// The part of a slice's integral between the horizon and the tangent plane, when the horizon is
// the higher: with the angle b between them, and t of the normal from the view ray within the slice,
// half of cos t sin^2 b + sin t (b - sin b cos b), times the normal's length within the slice.
// It is what equation 10 leaves out at the horizon. `run` goes across the view ray, `slope` along.
float closed_side(float slope, float run, float facing, float across) {
    float up = facing * slope + across * run;
    if (up <= 0.0) return 0.0;
    float side = facing * run - across * slope;
    float size = (facing * facing + across * across) * (run * run + slope * slope);
    float per = 1.0 / max(size, 1e-30);
    return 0.5 * (facing * (up * up * per) + across * (angle_of(side, up) - up * side * per));
}

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    float here = height_at(pixel);
    open_share = 1.0;
    if (here == NO_SURFACE_MM) return;
    vec3 normal = texelFetch(normal_coverage, pixel, 0).xyz;
#ifdef PERSPECTIVE
    vec2 on_blank = first_mm + vec2(pixel.x, -pixel.y) * mm_per_px;
    float per = 1.0 / length(vec3(on_blank, eye_mm));
    vec2 ray = on_blank * per;  // from the eye; its third part is -eye * per
    float facing = max(eye_mm * per * normal.z - dot(ray, normal.xy), 0.0);
    float grow = 1.0 / ((1.0 + here / eye_mm) * eye_mm * per);  // (1 - z / eye) / cos(ray)
#else
    float facing = max(normal.z, 0.0);
#endif
    float closed = 0.0;
    float all = 0.0;
    int k = 0;
    for (int s = 0; s < slice_count; ++s) {
        vec2 along = slices[s].xy;
        float weight = slices[s].z;
        float across = dot(normal.xy, along);
        float run = 1.0;
#ifdef PERSPECTIVE
        float lean = dot(ray, along);
        float run2 = 1.0 - lean * lean;
        run = sqrt(run2);
        across = (across + lean * facing) / run;
#endif
        ivec2 next = abs(along.x) >= abs(along.y) ? ivec2(0, -1) : ivec2(1, 0);
        vec2 horizon = vec2(NO_HORIZON);  // ahead and behind
        int end = int(slices[s].w);
        for (; k < end; ++k) {
            ivec2 offset = ivec2(taps[k].xy);
            float share = taps[k].z;
            vec2 height = vec2(tap_height(pixel + offset, pixel + offset + next, share),
                               tap_height(pixel - offset, pixel - offset - next, share));
            vec2 rise = (height - here) / taps[k].w;
            float reach_share = reach_mm / taps[k].w;
#ifdef PERSPECTIVE
            rise = rise * grow - vec2(lean, -lean);
            rise *= abs(rise);
            vec2 reach_there = reach_share * (1.0 + height / eye_mm);
            vec2 highest = reach_there * reach_there - run2;
#else
            vec2 highest = vec2(sqrt(max(reach_share * reach_share - 1.0, 0.0)));
#endif
            horizon = max(horizon, within_reach(rise, highest));
        }
#ifdef PERSPECTIVE
        horizon = sign(horizon) * sqrt(abs(horizon));
#endif
        closed += weight * (closed_side(horizon.x, run, facing, across) +
                            closed_side(horizon.y, run, facing, -across));
        float size = abs(across);
        all += weight * (facing + size * angle_of(facing, size));  // the same, nothing in the way
    }
    open_share = clamp(1.0 - closed / max(all, 1e-30), 0.0, 1.0);
}
