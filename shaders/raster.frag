#version 410 core
// One sample of the visible surface: its lift over the floor and its normal, turned to the viewer
// whichever way the triangle faces.
in float lift_mm;
in vec3 normal_view;
#ifdef PERSPECTIVE
in vec3 to_eye;
#endif

layout(location = 0) out float out_lift_mm;
layout(location = 1) out vec2 out_normal;  // octahedral, 0..1
#ifdef WITH_PARTS
uniform uint part;
layout(location = 2) out uint out_part;
#endif

vec2 encode_octahedral(vec3 n) {
    n /= abs(n.x) + abs(n.y) + abs(n.z);
    vec2 e = n.xy;
    if (n.z < 0.0) {
        e = (1.0 - abs(n.yx)) * vec2(n.x >= 0.0 ? 1.0 : -1.0, n.y >= 0.0 ? 1.0 : -1.0);
    }
    return e * 0.5 + 0.5;
}

void main() {
    vec3 n = gl_FrontFacing ? normal_view : -normal_view;
#ifdef PERSPECTIVE
    vec3 view = normalize(to_eye);
#else
    const vec3 view = vec3(0.0, 0.0, 1.0);
#endif
    // An interpolated normal may turn away from the viewer at an outline; the surface seen does not.
    n -= min(dot(n, view), 0.0) * view;
    out_lift_mm = lift_mm;
    out_normal = encode_octahedral(n);
#ifdef WITH_PARTS
    out_part = part;
#endif
}
