#version 430 core
// Rasters one bin and resolves it to pixels: raster.frag and resolve.frag in one, with the samples
// in registers. An invocation is a pixel; all of them go through the bin's triangles together. A
// sample shows the highest surface, of two equal ones that with the lower number: the order of the
// list means nothing. Whether a sample is inside is exact, and one on an edge belongs to the
// triangle whose left or top edge it is, as OpenGL's own raster has it.
#pragma optionNV(unroll all)
layout(local_size_x = 256) in;
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
#ifdef WITH_LIFTS
layout(std430, binding = 5) writeonly restrict buffer SampleLifts {
    float sample_lifts[];
};
#endif
#ifdef WITH_PARTS
layout(std430, binding = 6) writeonly restrict buffer SampleParts {
    uint sample_parts[];  // part plus one; 0: nothing
};
layout(std430, binding = 7) readonly restrict buffer PartStarts {
    uint part_starts[];  // first triangle of each part
};
uniform int part_count;
#endif
uniform ivec2 bins;
uniform ivec2 size_px;
uniform int first_bin_row;  // that is drawn, and whose samples are the first that are stored
#ifdef PERSPECTIVE
uniform float eye_mm;
uniform vec2 corner_mm;
uniform float samples_per_mm;
#endif

const int COUNT = SAMPLES * SAMPLES;
const uint NOTHING = 0xffffffffu;

shared ivec2 batch_a[256];
shared ivec2 batch_b[256];
shared ivec2 batch_c[256];
shared vec3 batch_lifts[256];
#ifdef PERSPECTIVE
shared vec3 batch_per_distance[256];
#endif
shared uint batch_names[256];
shared uint batch_boxes[256];  // pixels of the bin: left, right, top, bottom, 4 bits each
shared uint picked;

float best_lifts[COUNT];
uint best_names[COUNT];
ivec2 bin;
ivec2 in_bin;        // the pixel
ivec2 first_centre;  // of the pixel's first sample, SUBS

// Puts a triangle into the batch, clockwise. False when it does not show in the bin.
bool in_this_bin(ivec2 low, ivec2 high, out uint box) {
    ivec2 corner = bin * BIN_SAMPLES;
    ivec2 first = max(first_sample(low) - corner, ivec2(0)) / SAMPLES;
    ivec2 last_at = min(last_sample(high) - corner, ivec2(BIN_SAMPLES - 1));
    ivec2 last = last_at / SAMPLES;
    box = uint(first.x | last.x << 4 | first.y << 8 | last.y << 12);
    return last_at.x >= 0 && last_at.y >= 0 && first.x <= last.x && first.y <= last.y;
}

void put_in_batch(uint slot, uint triangle, ivec4 a, ivec4 b, ivec4 c, bool swapped, uint box) {
    if (swapped) {
        ivec4 kept = b;
        b = c;
        c = kept;
    }
    batch_a[slot] = a.xy;
    batch_b[slot] = b.xy;
    batch_c[slot] = c.xy;
    batch_lifts[slot] = intBitsToFloat(ivec3(a.z, b.z, c.z));
#ifdef PERSPECTIVE
    batch_per_distance[slot] = intBitsToFloat(ivec3(a.w, b.w, c.w));
#endif
    batch_names[slot] = triangle;
    batch_boxes[slot] = box;
}

bool misses_pixel(uint box) {
    uint x = uint(in_bin.x);
    uint y = uint(in_bin.y);
    return x < (box & 15u) || x > (box >> 4 & 15u) || y < (box >> 8 & 15u) || y > (box >> 12 & 15u);
}

// The lift where b and c have these shares of the triangle.
float lift_at(uint slot, float share_b, float share_c) {
    vec3 lifts = batch_lifts[slot];
#ifdef PERSPECTIVE
    vec3 per_distance = batch_per_distance[slot];
    float a = (1.0 - share_b - share_c) * per_distance.x;
    share_b *= per_distance.y;
    share_c *= per_distance.z;
    float all = a + share_b + share_c;
    share_b /= all;
    share_c /= all;
#endif
    return lifts.x + ((lifts.y - lifts.x) * share_b + (lifts.z - lifts.x) * share_c);
}

void offer(int k, float lift, uint name) {
    if (lift > best_lifts[k] || (lift == best_lifts[k] && name < best_names[k])) {
        best_lifts[k] = lift;
        best_names[k] = name;
    }
}

// 0 when samples on an edge belong to the triangle, else what takes them out.
int edge_bias(ivec2 edge) {
    return edge.y < 0 || (edge.y == 0 && edge.x > 0) ? 0 : -1;
}

void draw_small(uint slot) {
    if (misses_pixel(batch_boxes[slot])) return;
    ivec2 a = batch_a[slot];
    ivec2 b = batch_b[slot];
    ivec2 c = batch_c[slot];
    ivec2 ab = b - a;
    ivec2 bc = c - b;
    ivec2 ca = a - c;
    ivec3 bias = ivec3(edge_bias(bc), edge_bias(ca), edge_bias(ab));
    ivec2 p = first_centre;
    ivec3 row = ivec3(bc.x * (p.y - b.y) - bc.y * (p.x - b.x),   // a's share, times the area
                      ca.x * (p.y - c.y) - ca.y * (p.x - c.x),   // b's
                      ab.x * (p.y - a.y) - ab.y * (p.x - a.x)) + bias;
    ivec3 right = -SUBS * ivec3(bc.y, ca.y, ab.y);
    ivec3 down = SUBS * ivec3(bc.x, ca.x, ab.x);
    float per_area = 1.0 / float(ab.y * ca.x - ab.x * ca.y);
    uint name = batch_names[slot];
    for (int y = 0; y < SAMPLES; ++y) {
        ivec3 at = row + y * down;
        for (int x = 0; x < SAMPLES; ++x) {
            if ((at.x | at.y | at.z) >= 0) {
                float share_b = float(at.y - bias.y) * per_area;
                float share_c = float(at.z - bias.z) * per_area;
                offer(y * SAMPLES + x, lift_at(slot, share_b, share_c), name);
            }
            at += right;
        }
    }
}

// The same for triangles whose products need more than 32 bits; doubles hold them exactly.
void draw_large(uint slot) {
    if (misses_pixel(batch_boxes[slot])) return;
    dvec2 a = dvec2(batch_a[slot]);
    dvec2 b = dvec2(batch_b[slot]);
    dvec2 c = dvec2(batch_c[slot]);
    dvec2 ab = b - a;
    dvec2 bc = c - b;
    dvec2 ca = a - c;
    dvec3 bias = dvec3(edge_bias(ivec2(bc)), edge_bias(ivec2(ca)), edge_bias(ivec2(ab)));
    dvec2 p = dvec2(first_centre);
    dvec3 row = dvec3(bc.x * (p.y - b.y) - bc.y * (p.x - b.x),
                      ca.x * (p.y - c.y) - ca.y * (p.x - c.x),
                      ab.x * (p.y - a.y) - ab.y * (p.x - a.x)) + bias;
    dvec3 right = -double(SUBS) * dvec3(bc.y, ca.y, ab.y);
    dvec3 down = double(SUBS) * dvec3(bc.x, ca.x, ab.x);
    double per_area = 1.0 / (ab.y * ca.x - ab.x * ca.y);
    uint name = batch_names[slot];
    for (int y = 0; y < SAMPLES; ++y) {
        dvec3 at = row + double(y) * down;
        for (int x = 0; x < SAMPLES; ++x) {
            if (at.x >= 0.0 && at.y >= 0.0 && at.z >= 0.0) {
                float share_b = float((at.y - bias.y) * per_area);
                float share_c = float((at.z - bias.z) * per_area);
                offer(y * SAMPLES + x, lift_at(slot, share_b, share_c), name);
            }
            at += right;
        }
    }
}

void draw_listed(uint first, uint end) {
    uint me = gl_LocalInvocationID.x;
    for (; first < end; first += 256u) {
        uint count = min(end - first, 256u);
        barrier();  // the batch before has been drawn
        if (me < count) {
            uint triangle = listed[first + me];
            ivec4 a = places[indices[3u * triangle]];
            ivec4 b = places[indices[3u * triangle + 1u]];
            ivec4 c = places[indices[3u * triangle + 2u]];
            uint box;
            in_this_bin(min(a.xy, min(b.xy, c.xy)), max(a.xy, max(b.xy, c.xy)), box);
            bool swapped = doubled_area(a.xy, b.xy, c.xy) < 0;
            put_in_batch(me, triangle, a, b, c, swapped, box);
        }
        barrier();
        for (uint slot = 0u; slot < count; ++slot) draw_small(slot);
    }
}

void draw_large_listed(uint first, uint end) {
    uint me = gl_LocalInvocationID.x;
    for (; first < end; first += 256u) {
        barrier();
        if (me == 0u) picked = 0u;
        barrier();
        if (first + me < end) {
            uint triangle = listed[first + me];
            ivec4 a = places[indices[3u * triangle]];
            ivec4 b = places[indices[3u * triangle + 1u]];
            ivec4 c = places[indices[3u * triangle + 2u]];
            dvec2 ab = dvec2(b.xy - a.xy);
            dvec2 ac = dvec2(c.xy - a.xy);
            double area = ab.x * ac.y - ab.y * ac.x;
            uint box;
            bool shows = in_this_bin(min(a.xy, min(b.xy, c.xy)), max(a.xy, max(b.xy, c.xy)), box);
            if (shows && area != 0.0) {
                put_in_batch(atomicAdd(picked, 1u), triangle, a, b, c, area < 0.0, box);
            }
        }
        barrier();
        for (uint slot = 0u; slot < picked; ++slot) draw_large(slot);
    }
}

float cross_of(vec2 a, vec2 b) {
    return a.x * b.y - a.y * b.x;
}

// The normal of a triangle at a sample, turned to the viewer whichever way the triangle faces.
vec3 normal_at(uint triangle, ivec2 centre) {
    uvec3 corners = uvec3(indices[3u * triangle], indices[3u * triangle + 1u],
                          indices[3u * triangle + 2u]);
    ivec4 a = places[corners.x];
    ivec4 b = places[corners.y];
    ivec4 c = places[corners.z];
    vec2 to_a = vec2(a.xy - centre);
    vec2 to_b = vec2(b.xy - centre);
    vec2 to_c = vec2(c.xy - centre);
    vec3 shares = vec3(cross_of(to_b, to_c), cross_of(to_c, to_a), cross_of(to_a, to_b));
    shares /= shares.x + shares.y + shares.z;
    vec3 view = vec3(0.0, 0.0, 1.0);
#ifdef PERSPECTIVE
    shares *= intBitsToFloat(ivec3(a.w, b.w, c.w));
    shares /= shares.x + shares.y + shares.z;
    vec2 on_blank = corner_mm + vec2(centre.x, -centre.y) / (float(SUBS) * samples_per_mm);
    view = normalize(vec3(-on_blank, eye_mm));
#endif
    vec3 n = shares.x * normals[corners.x].xyz + shares.y * normals[corners.y].xyz +
             shares.z * normals[corners.z].xyz;
    // Seen from the front, a triangle is counter-clockwise; rows run downwards.
    if (cross_of(vec2(b.xy - a.xy), vec2(c.xy - a.xy)) > 0.0) n = -n;
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

void store_sample(ivec2 pixel, ivec2 sub, int k) {
    int row = (pixel.y - first_bin_row * BIN_PX) * SAMPLES + sub.y;
    int at = row * size_px.x * SAMPLES + pixel.x * SAMPLES + sub.x;
#ifdef WITH_LIFTS
    sample_lifts[at] = best_lifts[k];
#endif
#ifdef WITH_PARTS
    sample_parts[at] = best_names[k] == NOTHING ? 0u : part_of(best_names[k]);
#endif
}

void resolve(ivec2 pixel) {
    float lift_sum = 0.0;
    vec3 normal_sum = vec3(0.0);
    int covered = 0;
    vec2 range = vec2(1e30, 0.0);
    for (int y = 0; y < SAMPLES; ++y) {
        for (int x = 0; x < SAMPLES; ++x) {
            int k = y * SAMPLES + x;
            if (best_names[k] != NOTHING) {
                float lift = best_lifts[k];
                range = vec2(min(range.x, lift), max(range.y, lift));
                lift_sum += lift;
                normal_sum += normal_at(best_names[k], first_centre + SUBS * ivec2(x, y));
                ++covered;
            }
#if defined(WITH_LIFTS) || defined(WITH_PARTS)
            store_sample(pixel, ivec2(x, y), k);
#endif
        }
    }
    vec3 normal = covered > 0 ? normalize(normal_sum) : vec3(0.0, 0.0, 1.0);
    if (covered == 0) range = vec2(0.0);
    else if (covered < COUNT) range.x = -range.x;
    imageStore(lift_out, pixel, vec4(covered > 0 ? lift_sum / float(covered) : 0.0));
    imageStore(normal_coverage_out, pixel, vec4(normal, float(covered) / float(COUNT)));
    imageStore(lift_range_out, pixel, vec4(range, 0.0, 0.0));
}

void main() {
    // Eight by four pixels to a subgroup of 32: small triangles then concern few of them.
    int me = int(gl_LocalInvocationID.x);
    in_bin = ivec2(me & 7 | me >> 2 & 8, me >> 3 & 3 | me >> 4 & 12);
    bin = ivec2(gl_WorkGroupID.xy) + ivec2(0, first_bin_row);
    ivec2 pixel = bin * BIN_PX + in_bin;
    first_centre = pixel * (SAMPLES * SUBS) + SUBS / 2;
    for (int k = 0; k < COUNT; ++k) {
        best_lifts[k] = 0.0;
        best_names[k] = NOTHING;
    }
    int at = bin.y * bins.x + bin.x;
    int large = bins.x * bins.y;
    draw_listed(starts[at], starts[at + 1]);
    draw_large_listed(starts[large], starts[large + 1]);
    if (all(lessThan(pixel, size_px))) resolve(pixel);
}
