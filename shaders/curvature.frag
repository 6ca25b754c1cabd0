#version 410 core
// Curvature before smoothing: see curvature.glsl.
#include surface.glsl
#include curvature.glsl
layout(location = 0) out vec2 trusted;

void main() {
    trusted = fit_at(ivec2(gl_FragCoord.xy));
}
