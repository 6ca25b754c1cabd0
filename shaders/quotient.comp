#version 430 core
// quotient.frag for compute shaders.
layout(local_size_x = 32, local_size_y = 8) in;
#include quotient.glsl
layout(std430, binding = 2) readonly restrict buffer Values {
    vec2 values[];
};
layout(r32f, binding = 0) uniform writeonly restrict image2D mean;

void main() {
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    ivec2 size = imageSize(mean);
    if (any(greaterThanEqual(pixel, size))) return;
    imageStore(mean, pixel, vec4(mean_of(values[pixel.y * size.x + pixel.x])));
}
