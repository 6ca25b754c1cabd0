// The visible surface at a pixel. With FROM_BUFFER it comes from what surface.comp has stored.
uniform float mm_per_px;
#ifdef PERSPECTIVE
uniform float floor_mm;
uniform float eye_mm;
uniform vec2 first_mm;  // on the blank, from the view axis: the centre of pixel (0, 0)
#endif

struct Surface {
    float lift;   // 0: nothing, or two surfaces at a depth step (render/depth_steps.cpp)
    vec3 normal;
};

#ifdef FROM_BUFFER
layout(std430, binding = 1) readonly restrict buffer Surfaces {
    vec4 surfaces[];  // normal, lift
};
uniform ivec2 size_px;

Surface surface_at(ivec2 pixel) {
    if (any(lessThan(pixel, ivec2(0))) || any(greaterThanEqual(pixel, size_px))) {
        return Surface(0.0, vec3(0.0, 0.0, 1.0));
    }
    vec4 stored = surfaces[pixel.y * size_px.x + pixel.x];
    return Surface(stored.w, stored.xyz);
}
#else
uniform sampler2D lift_mm;
uniform sampler2D normal_coverage;
uniform sampler2D lift_range_mm;

Surface surface_at(ivec2 pixel) {
    ivec2 at = clamp(pixel, ivec2(0), textureSize(lift_mm, 0) - 1);
    if (at != pixel) return Surface(0.0, vec3(0.0, 0.0, 1.0));
    float lift = texelFetch(lift_mm, at, 0).r;
    vec3 normal = texelFetch(normal_coverage, at, 0).xyz;
    vec2 range = texelFetch(lift_range_mm, at, 0).rg;
    float slope = (abs(normal.x) + abs(normal.y)) / max(normal.z, 0.02);
    bool mixed = range.y - abs(range.x) > (2.0 * slope + 1.0) * mm_per_px;
    return Surface(mixed ? 0.0 : lift, normal);
}
#endif

// How the view ray of a pixel leans away from the view axis.
vec2 lean_at(ivec2 pixel) {
#ifdef PERSPECTIVE
    return (first_mm + vec2(pixel.x, -pixel.y) * mm_per_px) / eye_mm;
#else
    return vec2(0.0);
#endif
}

// The offset of a pixel as it shows on the plane through a surface's own depth, mm, x right, y up.
vec2 offset_mm(ivec2 pixels, float lift) {
    vec2 offset = vec2(pixels.x, -pixels.y) * mm_per_px;
#ifdef PERSPECTIVE
    offset *= 1.0 - (lift + floor_mm) / eye_mm;
#endif
    return offset;
}

// How far two places may be of one smooth piece: on any arc of a circle the chord is square to the
// sum of the normals. 0 on a step, and where nothing is.
float one_piece(Surface here, vec2 lean, Surface there, vec2 offset) {
    if (there.lift <= 0.0) return 0.0;
    float rise = there.lift - here.lift;
    vec3 chord = vec3(offset - rise * lean, rise);
    vec3 normals = here.normal + there.normal;
    float leave = dot(chord, normals);
    float size = dot(chord, chord) * dot(normals, normals);
    return 1.0 - smoothstep(0.25, 0.64, leave * leave / max(size, 1e-30));
}
