// Triangles in whole SUBS of a sample, and the bins of pixels that they are sorted into: at most
// 64 x 32 samples, whose lifts and names a group holds in 16 KiB.
const int SUBS = 256;
const int BIN_WIDTH_PX = SAMPLES > 4 ? 8 : SAMPLES > 2 ? 16 : 32;
const ivec2 BIN_PX = ivec2(BIN_WIDTH_PX, BIN_WIDTH_PX / 2);
const ivec2 BIN_SAMPLES = BIN_PX * SAMPLES;

// Up to this size products of two coordinates' differences, and differences of products, are exact
// in 32 bits: (120 + 8) * 256 = 2^15, and 2 * 2^15 * 120 * 256 < 2^31.
const int EXACT_SUBS = 120 * SUBS;
// Up to this size a triangle is listed in each bin that it may show in.
const int LISTED_SUBS = 1024 * SUBS;
// Triangles of up to this many samples in their box are drawn by an invocation alone; others have
// their entry in a list marked.
const int SMALL_SAMPLES = 64;
const uint NOT_SMALL = 0x80000000u;

// The first sample whose centre, SUBS / 2 from its corner, is not before a place; the last one not
// after it.
ivec2 first_sample(ivec2 place) {
    return (place + (SUBS / 2 - 1)) >> 8;
}
ivec2 last_sample(ivec2 place) {
    return (place - SUBS / 2) >> 8;
}

bool exceeds(ivec2 low, ivec2 high, int subs) {
    return any(greaterThan(high - low, ivec2(subs)));
}
