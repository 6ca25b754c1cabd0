#version 410 core
// From sums and trusts to means; 0 where a mean would rest on next to nothing.
uniform sampler2D values;
layout(location = 0) out float mean;

void main() {
    vec2 sums = texelFetch(values, ivec2(gl_FragCoord.xy), 0).rg;
    mean = sums.y > 1e-6 ? sums.x / sums.y : 0.0;
}
