// Outline and inner depth steps as a line one pixel wide. A sample lies on the line when a step of
// more than step_mm lies within half a pixel of it; the pixel's value is the share of its samples
// that do: exact area coverage at the samples' resolution.
// sample_at gives a sample's lift, range_at a pixel's lift range.
uniform ivec2 first_pixel;  // that sample (0, 0) belongs to
uniform float step_mm;

const int REACH = (SAMPLES + 1) / 2;              // whole samples looked at to each side
const float REACH_SQUARED = max(0.25 * float(SAMPLES * SAMPLES), 1.0);
const float NOTHING = -1e9;                       // the background lies below everything

bool any_step_near(ivec2 pixel) {
    float low = 1e9;
    float high = NOTHING;
    for (int y = -1; y <= 1; ++y) {
        for (int x = -1; x <= 1; ++x) {
            vec2 range = range_at(pixel + ivec2(x, y));
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
            lift = lift > 0.0 ? lift : NOTHING;
            low = min(low, lift);
            high = max(high, lift);
        }
    }
    return high - low > step_mm;
}

float strength_at(ivec2 pixel) {
    if (!any_step_near(pixel)) return 0.0;
    ivec2 corner = (pixel - first_pixel) * SAMPLES;
    int lit = 0;
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            lit += on_line(corner + ivec2(x, y)) ? 1 : 0;
        }
    }
    return float(lit) / float(SAMPLES * SAMPLES);
}
