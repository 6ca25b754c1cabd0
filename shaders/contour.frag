#version 410 core
// Outline and inner depth steps as a line one pixel wide. A sample lies on the line when a step of
// more than step_mm lies within half a pixel of it; the pixel's value is the share of its samples
// that do: exact area coverage at the samples' resolution.
uniform sampler2D sample_lift_mm;
uniform sampler2D lift_range_mm;
uniform ivec2 first_pixel;
uniform float step_mm;
layout(location = 0) out float strength;

const int REACH = (SAMPLES + 1) / 2;              // whole samples looked at to each side
const float REACH_SQUARED = max(0.25 * float(SAMPLES * SAMPLES), 1.0);
const float NOTHING = -1e9;                       // the background lies below everything

float sample_at(ivec2 at) {
    float lift = texelFetch(sample_lift_mm, at, 0).r;
    return lift > 0.0 ? lift : NOTHING;
}

bool any_step_near(ivec2 pixel) {
    float low = 1e9;
    float high = NOTHING;
    for (int y = -1; y <= 1; ++y) {
        for (int x = -1; x <= 1; ++x) {
            vec2 range = texelFetch(lift_range_mm, pixel + ivec2(x, y), 0).rg;
            low = min(low, range.x > 0.0 ? range.x : NOTHING);
            high = max(high, range.y > 0.0 ? range.y : NOTHING);
        }
    }
    return high - low > step_mm;
}

bool on_line(ivec2 at) {
    float low = 1e9;
    float high = NOTHING;
    for (int y = -REACH; y <= REACH; ++y) {
        for (int x = -REACH; x <= REACH; ++x) {
            if (float(x * x + y * y) > REACH_SQUARED) continue;
            float lift = sample_at(at + ivec2(x, y));
            low = min(low, lift);
            high = max(high, lift);
        }
    }
    return high - low > step_mm;
}

void main() {
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    strength = 0.0;
    if (!any_step_near(pixel)) return;
    ivec2 corner = (pixel - first_pixel) * SAMPLES;
    int lit = 0;
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            lit += on_line(corner + ivec2(x, y)) ? 1 : 0;
        }
    }
    strength = float(lit) / float(SAMPLES * SAMPLES);
}
