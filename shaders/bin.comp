#version 430 core
// Which bins a triangle may show in. Done twice: first to count, then, with FILL, to list the
// triangles of each bin. Large triangles, of which there are few, are listed once for all bins,
// after the last.
layout(local_size_x = 256) in;
#include bins.glsl
layout(std430, binding = 0) readonly restrict buffer Indices {
    uint indices[];
};
layout(std430, binding = 1) readonly restrict buffer Places {
    ivec4 places[];
};
layout(std430, binding = 2) readonly restrict buffer Runs {
    uvec2 runs[];  // first triangle; how many
};
layout(std430, binding = 3) restrict buffer Counts {
    uint counts[];  // with FILL where the next of a bin goes
};
#ifdef FILL
layout(std430, binding = 4) writeonly restrict buffer Listed {
    uint listed[];
};
#endif
#ifdef FILL
uniform uint capacity;  // of the list; what does not fit is left out, and the list made anew
#endif
uniform uint first_run;
uniform ivec2 size_samples;
uniform ivec2 bins;

void put(int bin, uint triangle) {
    uint at = atomicAdd(counts[bin], 1u);
#ifdef FILL
    if (at < capacity) listed[at] = triangle;
#endif
}

void main() {
    uvec2 run = runs[first_run + gl_WorkGroupID.y];
    uint within = gl_GlobalInvocationID.x;
    if (within >= run.y) return;
    uint triangle = run.x + within;
    ivec2 a = places[indices[3u * triangle]].xy;
    ivec2 b = places[indices[3u * triangle + 1u]].xy;
    ivec2 c = places[indices[3u * triangle + 2u]].xy;
    ivec2 low = min(a, min(b, c));
    ivec2 high = max(a, max(b, c));
    ivec2 first = max(first_sample(low), ivec2(0));
    ivec2 last = min(last_sample(high), size_samples - 1);
    if (first.x > last.x || first.y > last.y) return;  // between samples, or beside the picture
    ivec2 box = last_sample(high) - first_sample(low) + 1;
    bool large = exceeds(low, high, LISTED_SUBS);
    if (large || box.x * box.y > SMALL_SAMPLES) triangle |= NOT_SMALL;
    if (large) {
        put(bins.x * bins.y, triangle);
        return;
    }
    ivec2 from = first / BIN_SAMPLES;
    ivec2 to = last / BIN_SAMPLES;
    for (int y = from.y; y <= to.y; ++y) {
        for (int x = from.x; x <= to.x; ++x) put(y * bins.x + x, triangle);
    }
}
