// Triangles in whole SUBS of a sample, and the bins of pixels that they are sorted into: at most
// 64 x 32 samples, whose lifts and names a group holds in 16 KiB.
const int SUBS = 256;
const int BIN_WIDTH_PX = SAMPLES > 4 ? 8 : SAMPLES > 2 ? 16 : 32;
const ivec2 BIN_PX = ivec2(BIN_WIDTH_PX, BIN_WIDTH_PX / 2);
const ivec2 BIN_SAMPLES = BIN_PX * SAMPLES;

// Up to this size an invocation draws a triangle alone: its products of two coordinates'
// differences, and differences of products, are exact in 32 bits.
const int SMALL_SUBS = 24 * SUBS;
// Up to this size a triangle is listed in each bin that it may show in: at most 16 x 31.
const int LISTED_SUBS = 120 * SUBS;
const uint NOT_SMALL = 0x80000000u;  // marks its entry in a list

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
