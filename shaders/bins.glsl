// Triangles in whole SUBS of a sample, and the square bins of pixels that they are sorted into.
const int SUBS = 256;
const int BIN_PX = 16;
const int BIN_SAMPLES = BIN_PX * SAMPLES;
// Up to this size products of two coordinates' differences, and differences of products, are exact
// in 32 bits: (120 + 8) * 256 = 2^15, and 2 * 2^15 * 120 * 256 < 2^31. 8 is the most samples that a
// pixel's far samples lie beyond a triangle's box.
const int LARGE_SUBS = 120 * SUBS;

// The first sample whose centre, SUBS / 2 from its corner, is not before a place; the last one not
// after it.
ivec2 first_sample(ivec2 place) {
    return (place + (SUBS / 2 - 1)) >> 8;
}
ivec2 last_sample(ivec2 place) {
    return (place - SUBS / 2) >> 8;
}

bool is_large(ivec2 low, ivec2 high) {
    return any(greaterThan(high - low, ivec2(LARGE_SUBS)));
}

// Of a triangle that is not large. Rows run downwards: positive for clockwise.
int doubled_area(ivec2 a, ivec2 b, ivec2 c) {
    ivec2 ab = b - a;
    ivec2 ac = c - a;
    return ab.x * ac.y - ab.y * ac.x;
}
