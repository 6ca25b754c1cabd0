// From sums and trusts to means; 0 where a mean would rest on next to nothing.
float mean_of(vec2 sums) {
    return sums.y > 1e-6 ? sums.x / sums.y : 0.0;
}
