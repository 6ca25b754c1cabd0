#version 410 core
// Model to view space (mm on the blank) and to the tile's clip space.
layout(location = 0) in vec3 position_model;
layout(location = 1) in vec2 normal_octahedral;

uniform vec3 centre_model;
uniform mat3 view_mm_from_model;
uniform vec3 rest_view_mm;  // what single precision loses of the centre
uniform mat3 view_from_model;
uniform mat4 clip_from_view;
uniform float floor_mm;

out float lift_mm;
out vec3 normal_view;
#ifdef PERSPECTIVE
uniform float eye_mm;
out vec3 to_eye;
#endif

#include octahedral.glsl

void main() {
    vec3 view_mm = view_mm_from_model * (position_model - centre_model) + rest_view_mm;
    lift_mm = view_mm.z - floor_mm;
    normal_view = view_from_model * decode_octahedral(normal_octahedral);
#ifdef PERSPECTIVE
    to_eye = vec3(0.0, 0.0, eye_mm) - view_mm;
#endif
    gl_Position = clip_from_view * vec4(view_mm, 1.0);
}
