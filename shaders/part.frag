#version 410 core
// The share of a pixel's area in which one part is the visible one.
uniform usampler2D sample_part;
uniform ivec2 first_pixel;
uniform uint part;
layout(location = 0) out float coverage;

void main() {
    ivec2 corner = (ivec2(gl_FragCoord.xy) - first_pixel) * SAMPLES;
    int covered = 0;
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            covered += texelFetch(sample_part, corner + ivec2(x, y), 0).r == part ? 1 : 0;
        }
    }
    coverage = float(covered) / float(SAMPLES * SAMPLES);
}
