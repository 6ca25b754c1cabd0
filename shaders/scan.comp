#version 430 core
// From the bins' counts to where each bin's list starts; one group. The counts become the same, for
// bin.comp to fill by.
layout(local_size_x = 1024) in;
layout(std430, binding = 3) restrict buffer Counts {
    uint counts[];
};
layout(std430, binding = 4) writeonly restrict buffer Starts {
    uint starts[];  // one more than there are counts: the last is their sum
};
uniform uint count;
shared uint sums[1024];

void main() {
    uint me = gl_LocalInvocationID.x;
    uint share = (count + 1023u) / 1024u;
    uint first = min(me * share, count);
    uint end = min(first + share, count);
    uint own = 0u;
    for (uint i = first; i < end; ++i) own += counts[i];
    sums[me] = own;
    barrier();
    for (uint step = 1u; step < 1024u; step *= 2u) {
        uint before = me >= step ? sums[me - step] : 0u;
        barrier();
        sums[me] += before;
        barrier();
    }
    uint at = sums[me] - own;
    for (uint i = first; i < end; ++i) {
        uint size = counts[i];
        counts[i] = at;
        starts[i] = at;
        at += size;
    }
    if (me == 1023u) starts[count] = sums[me];
}
