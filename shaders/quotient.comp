#version 430 core
// quotient.frag for compute shaders.
layout(local_size_x = 32, local_size_y = 8) in;
#include quotient.glsl
layout(std430, binding = 2) readonly restrict buffer Values {
    vec2 values[];
};
layout(std430, binding = 3) writeonly restrict buffer Means {
    float means[];
};
uniform ivec2 size_px;

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size_px))) return;
    int at = pixel.y * size_px.x + pixel.x;
    means[at] = mean_of(values[at]);
}
