#version 430 core
// Rasters one bin and resolves it to pixels: raster.frag and resolve.frag in one, with the samples
// in shared memory. A sample shows the highest surface, of two equal ones that with the lowest
// name: the order in which things happen means nothing.
//
// Drivers grant a unit as little as 48 KiB of shared memory: what bounds the speed is how many
// invocations share 16 KiB.
//
// All triangles are drawn in two turns of the same code: first the highest lift of each sample is
// found, then the lowest name that has it. Small ones are drawn by an invocation each, others by
// TEAM of them together. Whether a sample is inside is exact, and one on an edge belongs to the
// triangle whose left or top edge it is, as OpenGL's own raster has it.
layout(local_size_x = 512) in;
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

const int GROUP = 512;
const int TEAM = 32;
const ivec2 TEAM_SAMPLES = ivec2(8, 4);
const uint NOTHING = 0xffffffffu;

shared uint lifts[BIN_SAMPLES.x * BIN_SAMPLES.y];  // bits; of numbers over 0 they keep the order
shared uint names[BIN_SAMPLES.x * BIN_SAMPLES.y];
shared uint picked[GROUP];  // triangles that teams draw
shared uint picked_count;

struct Triangle {
    ivec4 a, b, c;  // as places
    uint name;
};

ivec2 corner;  // of the bin, in samples

// Where a sample lies, row by row. The four rows of a team's samples lie in memory banks of their
// own.
int place_of_sample(ivec2 in_bin) {
    if (BIN_SAMPLES.x % 32 == 0) in_bin.x ^= 8 * (in_bin.y & 3);
    return in_bin.y * BIN_SAMPLES.x + in_bin.x;
}

// The samples of the bin that a triangle's box has.
struct Box {
    ivec2 first;
    ivec2 last;
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

Box box_of(Triangle t) {
    ivec2 low = min(t.a.xy, min(t.b.xy, t.c.xy));
    ivec2 high = max(t.a.xy, max(t.b.xy, t.c.xy));
    return Box(max(first_sample(low) - corner, ivec2(0)),
               min(last_sample(high) - corner, BIN_SAMPLES - 1));
}

bool is_empty(Box box) {
    return box.first.x > box.last.x || box.first.y > box.last.y;
}

// The lift where the second and third corners have these shares of the triangle.
float lift_at(vec3 corners, vec3 per_distance, float share_b, float share_c) {
#ifdef PERSPECTIVE
    precise float a = (1.0 - share_b - share_c) * per_distance.x;
    precise float b = share_b * per_distance.y;
    precise float c = share_c * per_distance.z;
    precise float per = 1.0 / (a + b + c);
    precise float near_b = b * per;
    precise float near_c = c * per;
#else
    float near_b = share_b;
    float near_c = share_c;
#endif
    precise float lift =
        corners.x + ((corners.y - corners.x) * near_b + (corners.z - corners.x) * near_c);
    return lift;
}

// 0 when samples on an edge belong to the triangle, else what takes them out.
int edge_bias(ivec2 edge) {
    return edge.y < 0 || (edge.y == 0 && edge.x > 0) ? 0 : -1;
}

int cross_of(ivec2 a, ivec2 b) {
    return a.x * b.y - a.y * b.x;
}

double cross_of(dvec2 a, dvec2 b) {
    return a.x * b.y - a.y * b.x;
}

// The shares of a triangle's corners, times its area, at places among the samples. Those on an edge
// that the triangle does not own are taken out by a bias.
struct Edges {
    ivec3 at;
    ivec3 right;  // by one sample
    ivec3 down;
    ivec3 bias;
    float per_area;
};

Edges edges_of(ivec2 a, ivec2 b, ivec2 c, ivec2 centre) {
    ivec2 ab = b - a;
    ivec2 bc = c - b;
    ivec2 ca = a - c;
    ivec3 bias = ivec3(edge_bias(bc), edge_bias(ca), edge_bias(ab));
    ivec3 at = bias + ivec3(cross_of(bc, centre - b), cross_of(ca, centre - c),
                            cross_of(ab, centre - a));
    precise float per_area = 1.0 / float(cross_of(ca, ab));
    return Edges(at, -SUBS * ivec3(bc.y, ca.y, ab.y), SUBS * ivec3(bc.x, ca.x, ab.x), bias,
                 per_area);
}

void offer(ivec2 in_bin, float lift, uint name, bool naming) {
    uint bits = floatBitsToUint(lift);
    int place = place_of_sample(in_bin);
    if (!naming) atomicMax(lifts[place], bits);
    else if (bits == lifts[place]) atomicMin(names[place], name);
}

void draw_small(Triangle t, Box box, bool naming) {
    Edges edges = edges_of(t.a.xy, t.b.xy, t.c.xy, (corner + box.first) * SUBS + SUBS / 2);
    vec3 corners = intBitsToFloat(ivec3(t.a.z, t.b.z, t.c.z));
    vec3 per_distance = intBitsToFloat(ivec3(t.a.w, t.b.w, t.c.w));
    for (int y = box.first.y; y <= box.last.y; ++y) {
        ivec3 at = edges.at;
        for (int x = box.first.x; x <= box.last.x; ++x) {
            if ((at.x | at.y | at.z) >= 0) {
                precise float share_b = float(at.y - edges.bias.y) * edges.per_area;
                precise float share_c = float(at.z - edges.bias.z) * edges.per_area;
                float lift = lift_at(corners, per_distance, share_b, share_c);
                offer(ivec2(x, y), lift, t.name, naming);
            }
            at += edges.right;
        }
        edges.at += edges.down;
    }
}

// A team's draw: its invocation's samples of the box.
void draw_exact(Triangle t, Box box, ivec2 start, bool naming) {
    Edges edges = edges_of(t.a.xy, t.b.xy, t.c.xy, (corner + start) * SUBS + SUBS / 2);
    vec3 corners = intBitsToFloat(ivec3(t.a.z, t.b.z, t.c.z));
    vec3 per_distance = intBitsToFloat(ivec3(t.a.w, t.b.w, t.c.w));
    for (int y = start.y; y <= box.last.y; y += TEAM_SAMPLES.y) {
        ivec3 at = edges.at;
        for (int x = start.x; x <= box.last.x; x += TEAM_SAMPLES.x) {
            if ((at.x | at.y | at.z) >= 0) {
                precise float share_b = float(at.y - edges.bias.y) * edges.per_area;
                precise float share_c = float(at.z - edges.bias.z) * edges.per_area;
                float lift = lift_at(corners, per_distance, share_b, share_c);
                offer(ivec2(x, y), lift, t.name, naming);
            }
            at += TEAM_SAMPLES.x * edges.right;
        }
        edges.at += TEAM_SAMPLES.y * edges.down;
    }
}

// The same in doubles, which hold the products of any triangle exactly.
void draw_large(Triangle t, Box box, ivec2 start, bool naming) {
    ivec2 ab = t.b.xy - t.a.xy;
    ivec2 bc = t.c.xy - t.b.xy;
    ivec2 ca = t.a.xy - t.c.xy;
    dvec3 bias = dvec3(edge_bias(bc), edge_bias(ca), edge_bias(ab));
    vec3 corners = intBitsToFloat(ivec3(t.a.z, t.b.z, t.c.z));
    vec3 per_distance = intBitsToFloat(ivec3(t.a.w, t.b.w, t.c.w));
    double per_area = 1.0 / cross_of(dvec2(ca), dvec2(ab));
    for (int y = start.y; y <= box.last.y; y += TEAM_SAMPLES.y) {
        for (int x = start.x; x <= box.last.x; x += TEAM_SAMPLES.x) {
            ivec2 centre = (corner + ivec2(x, y)) * SUBS + SUBS / 2;
            dvec3 at = bias + dvec3(cross_of(dvec2(bc), dvec2(centre - t.b.xy)),
                                    cross_of(dvec2(ca), dvec2(centre - t.c.xy)),
                                    cross_of(dvec2(ab), dvec2(centre - t.a.xy)));
            if (at.x < 0.0 || at.y < 0.0 || at.z < 0.0) continue;
            precise float share_b = float((at.y - bias.y) * per_area);
            precise float share_c = float((at.z - bias.z) * per_area);
            offer(ivec2(x, y), lift_at(corners, per_distance, share_b, share_c), t.name, naming);
        }
    }
}

bool is_exact(Triangle t) {
    ivec2 low = min(t.a.xy, min(t.b.xy, t.c.xy));
    ivec2 high = max(t.a.xy, max(t.b.xy, t.c.xy));
    return !exceeds(low, high, EXACT_SUBS);
}

// Turns a triangle clockwise; false when it has no area.
bool turn_clockwise(inout Triangle t) {
    ivec2 ab = t.b.xy - t.a.xy;
    ivec2 ac = t.c.xy - t.a.xy;
    int turn = is_exact(t) ? sign(cross_of(ab, ac)) : int(sign(cross_of(dvec2(ab), dvec2(ac))));
    if (turn < 0) swap_corners(t);
    return turn != 0;
}

// What the teams have been given.
void draw_picked(bool naming) {
    int me = int(gl_LocalInvocationID.x);
    ivec2 mine = ivec2(me % TEAM_SAMPLES.x, me % TEAM / TEAM_SAMPLES.x);
    for (int i = me / TEAM; i < int(picked_count); i += GROUP / TEAM) {
        Triangle t = triangle_of(picked[i]);
        turn_clockwise(t);
        Box box = box_of(t);
        if (is_exact(t)) draw_exact(t, box, box.first + mine, naming);
        else draw_large(t, box, box.first + mine, naming);
    }
}

// A list's triangles, GROUP at a time, one turn.
void draw_listed(uint first, uint end, bool naming) {
    for (; first < end; first += uint(GROUP)) {
        if (gl_LocalInvocationID.x == 0u) picked_count = 0u;
        barrier();
        uint i = first + gl_LocalInvocationID.x;
        if (i < end) {
            uint entry = listed[i];
            Triangle t = triangle_of(entry & ~NOT_SMALL);
            Box box = box_of(t);
            bool shows = turn_clockwise(t) && !is_empty(box);
            bool small = (entry & NOT_SMALL) == 0u;
            if (shows && small) draw_small(t, box, naming);
            if (shows && !small) picked[atomicAdd(picked_count, 1u)] = t.name;
        }
        barrier();
        draw_picked(naming);
        barrier();
    }
}

float cross_of(vec2 a, vec2 b) {
    return a.x * b.y - a.y * b.x;
}

// The triangle whose normals were asked for last: neighbouring samples mostly show the same one.
Triangle held;
vec3 held_a, held_b, held_c;

void hold(uint name) {
    uvec3 at = uvec3(indices[3u * name], indices[3u * name + 1u], indices[3u * name + 2u]);
    held = Triangle(places[at.x], places[at.y], places[at.z], name);
    vec2 ab = vec2(held.b.xy - held.a.xy);
    vec2 ac = vec2(held.c.xy - held.a.xy);
    // Seen from the front, a triangle is counter-clockwise; rows run downwards.
    float turn = cross_of(ab, ac) > 0.0 ? -1.0 : 1.0;
    held_a = turn * normals[at.x].xyz;
    held_b = turn * normals[at.y].xyz;
    held_c = turn * normals[at.z].xyz;
}

// The normal of the held triangle at a sample, turned to the viewer whichever way it faces.
vec3 normal_at(ivec2 centre) {
    vec2 to_a = vec2(held.a.xy - centre);
    vec2 to_b = vec2(held.b.xy - centre);
    vec2 to_c = vec2(held.c.xy - centre);
    vec3 shares = vec3(cross_of(to_b, to_c), cross_of(to_c, to_a), cross_of(to_a, to_b));
    vec3 view = vec3(0.0, 0.0, 1.0);
    // Of either sign: times the area, whose sign the corners' order has.
    float area = shares.x + shares.y + shares.z;
#ifdef PERSPECTIVE
    shares *= intBitsToFloat(ivec3(held.a.w, held.b.w, held.c.w));
    vec2 on_blank = corner_mm + vec2(centre.x, -centre.y) / (float(SUBS) * samples_per_mm);
    view = normalize(vec3(-on_blank, eye_mm));
#endif
    vec3 n = sign(area) * (shares.x * held_a + shares.y * held_b + shares.z * held_c);
    n = normalize(n);
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

void resolve(ivec2 in_bin) {
    ivec2 pixel = corner / SAMPLES + in_bin;
    float lift_sum = 0.0;
    vec3 normal_sum = vec3(0.0);
    int covered = 0;
    vec2 range = vec2(1e30, 0.0);
    held.name = NOTHING;
    for (int k = 0; k < SAMPLES * SAMPLES; ++k) {
        ivec2 sample_at = in_bin * SAMPLES + ivec2(k % SAMPLES, k / SAMPLES);
        int at = place_of_sample(sample_at);
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
    ivec2 bin = ivec2(gl_WorkGroupID.xy) + ivec2(0, first_bin_row);
    corner = bin * BIN_SAMPLES;
    int at = bin.y * bins.x + bin.x;
    int large = bins.x * bins.y;
    uvec4 lists = min(uvec4(starts[at], starts[at + 1], starts[large], starts[large + 1]),
                      uvec4(capacity));
    int me = int(gl_LocalInvocationID.x);
    for (int i = me; i < BIN_SAMPLES.x * BIN_SAMPLES.y; i += GROUP) {
        lifts[i] = 0u;
        names[i] = NOTHING;
    }
    for (int turn = 0; turn < 2; ++turn) {
        barrier();
        draw_listed(lists.x, lists.y, turn == 1);
        draw_listed(lists.z, lists.w, turn == 1);
    }
    barrier();
    for (int i = me; i < BIN_PX.x * BIN_PX.y; i += GROUP) {
        ivec2 in_bin = ivec2(i % BIN_PX.x, i / BIN_PX.x);
        if (all(lessThan(corner / SAMPLES + in_bin, size_px))) resolve(in_bin);
    }
}
