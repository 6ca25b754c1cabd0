#version 430 core
// Rasters one bin and resolves it to pixels: raster.frag and resolve.frag in one, with the samples
// in shared memory. Small triangles are drawn one by each invocation, others by all together, each
// its pixels. A sample shows the highest surface, of two equal ones that with the lowest number:
// first the highest lift is found, then the lowest name that has it, by the same code, so that the
// order in which things happen means nothing. Whether a sample is inside is exact, and one on an
// edge belongs to the triangle whose left or top edge it is, as OpenGL's own raster has it.
layout(local_size_x = 128) in;
#include bins.glsl
layout(std430, binding = 0) readonly restrict buffer Indices {
    uint indices[];
};
layout(std430, binding = 1) readonly restrict buffer Places {
    ivec4 places[];
};
layout(std430, binding = 2) readonly restrict buffer Normals {
    vec4 normals[];
};
layout(std430, binding = 3) readonly restrict buffer Starts {
    uint starts[];
};
layout(std430, binding = 4) readonly restrict buffer Listed {
    uint listed[];
};
layout(r32f, binding = 0) uniform writeonly restrict image2D lift_out;
layout(rgba32f, binding = 1) uniform writeonly restrict image2D normal_coverage_out;
layout(rg32f, binding = 2) uniform writeonly restrict image2D lift_range_out;
layout(std430, binding = 5) writeonly restrict buffer Maps {
    float maps[];  // the same for reading back: all lifts, all normals with coverage, all ranges
};
#if defined(WITH_LIFTS) || defined(WITH_PARTS)
layout(std430, binding = 6) writeonly restrict buffer Samples {
    uint samples[];  // all lifts, as bits; all parts plus one, 0 for nothing
};
uniform int samples_stored;
#endif
#ifdef WITH_PARTS
layout(std430, binding = 7) readonly restrict buffer PartStarts {
    uint part_starts[];  // first triangle of each part
};
uniform int part_count;
#endif
uniform uint capacity;  // of the list
uniform ivec2 bins;
uniform ivec2 size_px;
uniform int first_bin_row;  // that is drawn, and whose samples are the first that are stored
#ifdef PERSPECTIVE
uniform float eye_mm;
uniform vec2 corner_mm;
uniform float samples_per_mm;
#endif

const uint GROUP = 128u;
const int BIN_COUNT = BIN_SAMPLES.x * BIN_SAMPLES.y;
const uint NOTHING = 0xffffffffu;

shared uint lifts[BIN_COUNT];  // bits; those of numbers over 0 have the numbers' order
shared uint names[BIN_COUNT];
shared uint picked[GROUP];
shared uint picked_count;

struct Triangle {
    ivec4 a, b, c;  // as places
    uint name;
};

Triangle triangle_of(uint name) {
    return Triangle(places[indices[3u * name]], places[indices[3u * name + 1u]],
                    places[indices[3u * name + 2u]], name);
}

void swap_corners(inout Triangle t) {
    ivec4 kept = t.b;
    t.b = t.c;
    t.c = kept;
}

// The samples of the bin that a triangle's box has.
struct Box {
    ivec2 first;
    ivec2 last;
};

Box box_of(Triangle t, ivec2 corner) {
    ivec2 low = min(t.a.xy, min(t.b.xy, t.c.xy));
    ivec2 high = max(t.a.xy, max(t.b.xy, t.c.xy));
    return Box(max(first_sample(low) - corner, ivec2(0)),
               min(last_sample(high) - corner, BIN_SAMPLES - 1));
}

bool is_empty(Box box) {
    return box.first.x > box.last.x || box.first.y > box.last.y;
}

// The lift where b and c have these shares of the triangle.
float lift_at(Triangle t, float share_b, float share_c) {
    precise vec3 corners = intBitsToFloat(ivec3(t.a.z, t.b.z, t.c.z));
#ifdef PERSPECTIVE
    vec3 per_distance = intBitsToFloat(ivec3(t.a.w, t.b.w, t.c.w));
    precise float a = (1.0 - share_b - share_c) * per_distance.x;
    precise float b = share_b * per_distance.y;
    precise float c = share_c * per_distance.z;
    precise float all = a + b + c;
    share_b = b / all;
    share_c = c / all;
#endif
    precise float lift = corners.x + ((corners.y - corners.x) * share_b +
                                      (corners.z - corners.x) * share_c);
    return lift;
}

void offer(int at, float lift, uint name, bool naming) {
    uint bits = floatBitsToUint(lift);
    if (naming) {
        if (bits == lifts[at]) atomicMin(names[at], name);
    } else if (bits > lifts[at]) {
        atomicMax(lifts[at], bits);
    }
}

// 0 when samples on an edge belong to the triangle, else what takes them out.
int edge_bias(ivec2 edge) {
    return edge.y < 0 || (edge.y == 0 && edge.x > 0) ? 0 : -1;
}

int cross_of(ivec2 a, ivec2 b) {
    return a.x * b.y - a.y * b.x;
}

void draw_small(uint name, ivec2 corner, bool naming) {
    Triangle t = triangle_of(name);
    int area = cross_of(t.b.xy - t.a.xy, t.c.xy - t.a.xy);
    if (area == 0) return;
    if (area < 0) swap_corners(t);
    Box box = box_of(t, corner);
    ivec2 ab = t.b.xy - t.a.xy;
    ivec2 bc = t.c.xy - t.b.xy;
    ivec2 ca = t.a.xy - t.c.xy;
    ivec2 centre = (corner + box.first) * SUBS + SUBS / 2;
    ivec3 bias = ivec3(edge_bias(bc), edge_bias(ca), edge_bias(ab));
    // The shares of a, b and c, times the area.
    ivec3 row = bias + ivec3(cross_of(bc, centre - t.b.xy), cross_of(ca, centre - t.c.xy),
                             cross_of(ab, centre - t.a.xy));
    ivec3 right = -SUBS * ivec3(bc.y, ca.y, ab.y);
    ivec3 down = SUBS * ivec3(bc.x, ca.x, ab.x);
    precise float per_area = 1.0 / float(abs(area));
    for (int y = box.first.y; y <= box.last.y; ++y) {
        ivec3 at = row;
        for (int x = box.first.x; x <= box.last.x; ++x) {
            if ((at.x | at.y | at.z) >= 0) {
                precise float share_b = float(at.y - bias.y) * per_area;
                precise float share_c = float(at.z - bias.z) * per_area;
                offer(y * BIN_SAMPLES.x + x, lift_at(t, share_b, share_c), name, naming);
            }
            at += right;
        }
        row += down;
    }
}

double cross_of(dvec2 a, dvec2 b) {
    return a.x * b.y - a.y * b.x;
}

// The same by all invocations, each the samples of its pixels; in doubles, which hold the products
// of any size exactly.
void draw_together(uint name, ivec2 corner, bool naming) {
    Triangle t = triangle_of(name);
    Box box = box_of(t, corner);
    double area = cross_of(dvec2(t.b.xy - t.a.xy), dvec2(t.c.xy - t.a.xy));
    if (is_empty(box) || area == 0.0) return;
    if (area < 0.0) swap_corners(t);
    ivec2 ab = t.b.xy - t.a.xy;
    ivec2 bc = t.c.xy - t.b.xy;
    ivec2 ca = t.a.xy - t.c.xy;
    dvec3 bias = dvec3(edge_bias(bc), edge_bias(ca), edge_bias(ab));
    dvec3 right = -double(SUBS) * dvec3(bc.y, ca.y, ab.y);
    dvec3 down = double(SUBS) * dvec3(bc.x, ca.x, ab.x);
    double per_area = 1.0 / abs(area);
    ivec2 centre = corner * SUBS + SUBS / 2;
    dvec3 origin = bias + dvec3(cross_of(dvec2(bc), dvec2(centre - t.b.xy)),
                                cross_of(dvec2(ca), dvec2(centre - t.c.xy)),
                                cross_of(dvec2(ab), dvec2(centre - t.a.xy)));
    for (int at = int(gl_LocalInvocationID.x); at < BIN_COUNT; at += int(GROUP)) {
        ivec2 sample_at = ivec2(at % BIN_SAMPLES.x, at / BIN_SAMPLES.x);
        if (any(lessThan(sample_at, box.first)) || any(greaterThan(sample_at, box.last))) continue;
        dvec3 edges = origin + double(sample_at.x) * right + double(sample_at.y) * down;
        if (edges.x < 0.0 || edges.y < 0.0 || edges.z < 0.0) continue;
        precise float share_b = float((edges.y - bias.y) * per_area);
        precise float share_c = float((edges.z - bias.z) * per_area);
        offer(at, lift_at(t, share_b, share_c), name, naming);
    }
}

// A list's triangles, GROUP at a time: small ones at once, others picked and drawn together.
void draw_listed(uint first, uint end, ivec2 corner, bool small_ones, bool naming) {
    uint me = gl_LocalInvocationID.x;
    for (; first < end; first += GROUP) {
        if (me == 0u) picked_count = 0u;
        barrier();
        if (first + me < end) {
            uint entry = listed[first + me];
            uint name = entry & ~NOT_SMALL;
            if (small_ones && entry == name) draw_small(name, corner, naming);
            else if (!is_empty(box_of(triangle_of(name), corner))) {
                picked[atomicAdd(picked_count, 1u)] = name;
            }
        }
        barrier();
        for (uint i = 0u; i < picked_count; ++i) draw_together(picked[i], corner, naming);
        barrier();
    }
}

float cross_of(vec2 a, vec2 b) {
    return a.x * b.y - a.y * b.x;
}

// The triangle whose normals were asked for last: neighbouring samples mostly show the same one.
Triangle held;
vec3 held_normals[3];

void hold(uint name) {
    held = triangle_of(name);
    for (uint i = 0u; i < 3u; ++i) held_normals[i] = normals[indices[3u * name + i]].xyz;
    // Seen from the front, a triangle is counter-clockwise; rows run downwards.
    vec2 ab = vec2(held.b.xy - held.a.xy);
    vec2 ac = vec2(held.c.xy - held.a.xy);
    if (cross_of(ab, ac) <= 0.0) return;
    for (uint i = 0u; i < 3u; ++i) held_normals[i] = -held_normals[i];
}

// The normal of the held triangle at a sample, turned to the viewer whichever way it faces.
vec3 normal_at(ivec2 centre) {
    vec2 to_a = vec2(held.a.xy - centre);
    vec2 to_b = vec2(held.b.xy - centre);
    vec2 to_c = vec2(held.c.xy - centre);
    vec3 shares = vec3(cross_of(to_b, to_c), cross_of(to_c, to_a), cross_of(to_a, to_b));
    vec3 view = vec3(0.0, 0.0, 1.0);
#ifdef PERSPECTIVE
    shares *= intBitsToFloat(ivec3(held.a.w, held.b.w, held.c.w));
    vec2 on_blank = corner_mm + vec2(centre.x, -centre.y) / (float(SUBS) * samples_per_mm);
    view = normalize(vec3(-on_blank, eye_mm));
#endif
    shares /= shares.x + shares.y + shares.z;
    vec3 n = shares.x * held_normals[0] + shares.y * held_normals[1] + shares.z * held_normals[2];
    // An interpolated normal may turn away from the viewer at an outline; the surface seen does not.
    n -= min(dot(n, view), 0.0) * view;
    return normalize(n);
}

#ifdef WITH_PARTS
uint part_of(uint triangle) {
    int low = 0;
    int high = part_count;
    while (high - low > 1) {
        int middle = (low + high) / 2;
        if (part_starts[middle] <= triangle) low = middle;
        else high = middle;
    }
    return uint(low + 1);
}
#endif

#if defined(WITH_LIFTS) || defined(WITH_PARTS)
void store_sample(ivec2 at_sample, int at) {
    int row = at_sample.y - first_bin_row * BIN_SAMPLES.y;
    int to = row * size_px.x * SAMPLES + at_sample.x;
#ifdef WITH_LIFTS
    samples[to] = lifts[at];
#endif
#ifdef WITH_PARTS
    samples[samples_stored + to] = names[at] == NOTHING ? 0u : part_of(names[at]);
#endif
}
#endif

void store_pixel(ivec2 pixel, float lift, vec4 normal_coverage, vec2 range) {
    imageStore(lift_out, pixel, vec4(lift));
    imageStore(normal_coverage_out, pixel, normal_coverage);
    imageStore(lift_range_out, pixel, vec4(range, 0.0, 0.0));
    int count = size_px.x * size_px.y;
    int at = pixel.y * size_px.x + pixel.x;
    maps[at] = lift;
    for (int i = 0; i < 4; ++i) maps[count + 4 * at + i] = normal_coverage[i];
    maps[5 * count + 2 * at] = range.x;
    maps[5 * count + 2 * at + 1] = range.y;
}

void resolve(ivec2 in_bin, ivec2 corner) {
    ivec2 pixel = corner / SAMPLES + in_bin;
    float lift_sum = 0.0;
    vec3 normal_sum = vec3(0.0);
    int covered = 0;
    vec2 range = vec2(1e30, 0.0);
    held.name = NOTHING;
    for (int k = 0; k < SAMPLES * SAMPLES; ++k) {
        ivec2 sample_at = in_bin * SAMPLES + ivec2(k % SAMPLES, k / SAMPLES);
        int at = sample_at.y * BIN_SAMPLES.x + sample_at.x;
        uint name = names[at];
        if (name != NOTHING) {
            float lift = uintBitsToFloat(lifts[at]);
            range = vec2(min(range.x, lift), max(range.y, lift));
            lift_sum += lift;
            if (name != held.name) hold(name);
            normal_sum += normal_at((corner + sample_at) * SUBS + SUBS / 2);
            ++covered;
        }
#if defined(WITH_LIFTS) || defined(WITH_PARTS)
        store_sample(corner + sample_at, at);
#endif
    }
    vec3 normal = covered > 0 ? normalize(normal_sum) : vec3(0.0, 0.0, 1.0);
    if (covered == 0) range = vec2(0.0);
    else if (covered < SAMPLES * SAMPLES) range.x = -range.x;
    store_pixel(pixel, covered > 0 ? lift_sum / float(covered) : 0.0,
                vec4(normal, float(covered) / float(SAMPLES * SAMPLES)), range);
}

void main() {
    uint me = gl_LocalInvocationID.x;
    ivec2 bin = ivec2(gl_WorkGroupID.xy) + ivec2(0, first_bin_row);
    ivec2 corner = bin * BIN_SAMPLES;
    for (uint at = me; at < uint(BIN_COUNT); at += GROUP) {
        lifts[at] = 0u;
        names[at] = NOTHING;
    }
    int at = bin.y * bins.x + bin.x;
    int large = bins.x * bins.y;
    uvec4 lists = min(uvec4(starts[at], starts[at + 1], starts[large], starts[large + 1]),
                      uvec4(capacity));
    for (int turn = 0; turn < 2; ++turn) {
        barrier();
        draw_listed(lists.x, lists.y, corner, true, turn == 1);
        draw_listed(lists.z, lists.w, corner, false, turn == 1);
    }
    barrier();
    for (int i = int(me); i < BIN_PX.x * BIN_PX.y; i += int(GROUP)) {
        ivec2 in_bin = ivec2(i % BIN_PX.x, i / BIN_PX.x);
        if (all(lessThan(corner / SAMPLES + in_bin, size_px))) resolve(in_bin, corner);
    }
}
