#version 430 core
// part.frag for compute shaders, over rows of the picture whose samples tile.comp has stored.
layout(local_size_x = 32, local_size_y = 4) in;
layout(std430, binding = 6) readonly restrict buffer Samples {
    uint samples[];  // lifts, then parts
};
layout(std430, binding = 1) writeonly restrict buffer Coverages {
    float coverages[];
};
uniform int width_px;
uniform int samples_stored;
uniform ivec2 first_pixel;  // that the first stored sample belongs to
uniform int stored_columns;
uniform uint part;
uniform int first_row;  // that is drawn
uniform int end_row;

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy) + ivec2(0, first_row);
    if (pixel.x >= width_px || pixel.y >= end_row) return;
    ivec2 corner = (pixel - first_pixel) * SAMPLES;
    int covered = 0;
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            int at = (corner.y + y) * stored_columns + corner.x + x;
            covered += samples[samples_stored + at] == part ? 1 : 0;
        }
    }
    coverages[pixel.y * width_px + pixel.x] = float(covered) / float(SAMPLES * SAMPLES);
}
