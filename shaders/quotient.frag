#version 410 core
#include quotient.glsl
uniform sampler2D values;
layout(location = 0) out float mean;

void main() {
    mean = mean_of(texelFetch(values, ivec2(gl_FragCoord.xy), 0).rg);
}
