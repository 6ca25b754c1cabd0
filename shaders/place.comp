#version 430 core
// Every vertex from model space to places among the samples, and its normal to view space: what
// raster.vert does, once for each vertex. Places are whole SUBS of a sample, so that all that
// follows from them is exact.
layout(local_size_x = 256) in;
#include octahedral.glsl
struct Packed {
    float x, y, z;
    uint normal;
};
layout(std430, binding = 0) readonly restrict buffer Vertices {
    Packed vertices[];
};
layout(std430, binding = 1) writeonly restrict buffer Places {
    ivec4 places[];  // x, y; the bits of lift, mm, and of one by the distance from the eye
};
layout(std430, binding = 2) writeonly restrict buffer Normals {
    vec4 normals[];
};
uniform uint vertex_count;
uniform uint first_vertex;
uniform vec3 centre_model;
uniform mat3 view_mm_from_model;
uniform vec3 rest_view_mm;
uniform mat3 view_from_model;
uniform float floor_mm;
uniform float eye_mm;
uniform vec2 corner_mm;       // of the first sample, on the blank, from the view axis
uniform float samples_per_mm;
const float SUBS = 256.0;

void main() {
    uint i = first_vertex + gl_GlobalInvocationID.x;
    if (i >= vertex_count) return;
    Packed vertex = vertices[i];
    vec3 view_mm = view_mm_from_model * (vec3(vertex.x, vertex.y, vertex.z) - centre_model) +
                   rest_view_mm;
    vec2 on_blank = view_mm.xy;
    float per_distance = 1.0;
#ifdef PERSPECTIVE
    per_distance = 1.0 / (eye_mm - view_mm.z);
    on_blank *= eye_mm * per_distance;
#endif
    vec2 samples = (on_blank - corner_mm) * vec2(samples_per_mm, -samples_per_mm);
    ivec2 place = ivec2(floor(samples * SUBS + 0.5));
    places[i] = ivec4(place, floatBitsToInt(view_mm.z - floor_mm), floatBitsToInt(per_distance));
    vec3 normal = view_from_model * decode_octahedral(unpackSnorm2x16(vertex.normal));
    normals[i] = vec4(normal, 0.0);
}
