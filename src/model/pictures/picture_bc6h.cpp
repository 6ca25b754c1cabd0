// BC6H, by OpenGL's ARB_texture_compression_bptc, tables MF and F and what stands before them.

#include <span>

#include "model/pictures/picture_bptc.hpp"
#include "model/pictures/picture_bptc_parts.hpp"

namespace rakelight {
namespace {

using namespace bptc;

/// Which number of the block: red, green or blue of end 0 to 3. Ends 0 and 1 are of the first
/// subset.
enum Part : std::uint8_t { r0, g0, b0, r1, g1, b1, r2, g2, b2, r3, g3, b3 };

/// Bits of a part that stand side by side in the block.
struct Run {
    Part part;
    std::uint8_t low;  ///< of the part's bits the lowest one here
    std::uint8_t count = 1;
    bool highest_first = false;
};

// What stands behind the mode's number, for each mode by that number.
constexpr Run layout_0[]{{g2, 4},     {b2, 4},    {b3, 4},    {r0, 0, 10}, {g0, 0, 10},
                         {b0, 0, 10}, {r1, 0, 5}, {g3, 4},    {g2, 0, 4},  {g1, 0, 5},
                         {b3, 0},     {g3, 0, 4}, {b1, 0, 5}, {b3, 1},     {b2, 0, 4},
                         {r2, 0, 5},  {b3, 2},    {r3, 0, 5}, {b3, 3}};
constexpr Run layout_1[]{{g2, 5},    {g3, 4},    {g3, 5},    {r0, 0, 7}, {b3, 0},    {b3, 1},
                         {b2, 4},    {g0, 0, 7}, {b2, 5},    {b3, 2},    {g2, 4},    {b0, 0, 7},
                         {b3, 3},    {b3, 5},    {b3, 4},    {r1, 0, 6}, {g2, 0, 4}, {g1, 0, 6},
                         {g3, 0, 4}, {b1, 0, 6}, {b2, 0, 4}, {r2, 0, 6}, {r3, 0, 6}};
constexpr Run layout_2[]{{r0, 0, 10}, {g0, 0, 10}, {b0, 0, 10}, {r1, 0, 5}, {r0, 10},   {g2, 0, 4},
                         {g1, 0, 4},  {g0, 10},    {b3, 0},     {g3, 0, 4}, {b1, 0, 4}, {b0, 10},
                         {b3, 1},     {b2, 0, 4},  {r2, 0, 5},  {b3, 2},    {r3, 0, 5}, {b3, 3}};
constexpr Run layout_6[]{{r0, 0, 10}, {g0, 0, 10}, {b0, 0, 10}, {r1, 0, 4}, {r0, 10},
                         {g3, 4},     {g2, 0, 4},  {g1, 0, 5},  {g0, 10},   {g3, 0, 4},
                         {b1, 0, 4},  {b0, 10},    {b3, 1},     {b2, 0, 4}, {r2, 0, 4},
                         {b3, 0},     {b3, 2},     {r3, 0, 4},  {g2, 4},    {b3, 3}};
constexpr Run layout_10[]{{r0, 0, 10}, {g0, 0, 10}, {b0, 0, 10}, {r1, 0, 4}, {r0, 10},
                          {b2, 4},     {g2, 0, 4},  {g1, 0, 4},  {g0, 10},   {b3, 0},
                          {g3, 0, 4},  {b1, 0, 5},  {b0, 10},    {b2, 0, 4}, {r2, 0, 4},
                          {b3, 1},     {b3, 2},     {r3, 0, 4},  {b3, 4},    {b3, 3}};
constexpr Run layout_14[]{{r0, 0, 9}, {b2, 4},    {g0, 0, 9}, {g2, 4},    {b0, 0, 9},
                          {b3, 4},    {r1, 0, 5}, {g3, 4},    {g2, 0, 4}, {g1, 0, 5},
                          {b3, 0},    {g3, 0, 4}, {b1, 0, 5}, {b3, 1},    {b2, 0, 4},
                          {r2, 0, 5}, {b3, 2},    {r3, 0, 5}, {b3, 3}};
constexpr Run layout_18[]{{r0, 0, 8}, {g3, 4},    {b2, 4},    {g0, 0, 8}, {b3, 2},
                          {g2, 4},    {b0, 0, 8}, {b3, 3},    {b3, 4},    {r1, 0, 6},
                          {g2, 0, 4}, {g1, 0, 5}, {b3, 0},    {g3, 0, 4}, {b1, 0, 5},
                          {b3, 1},    {b2, 0, 4}, {r2, 0, 6}, {r3, 0, 6}};
constexpr Run layout_22[]{{r0, 0, 8}, {b3, 0},    {b2, 4},    {g0, 0, 8}, {g2, 5},    {g2, 4},
                          {b0, 0, 8}, {g3, 5},    {b3, 4},    {r1, 0, 5}, {g3, 4},    {g2, 0, 4},
                          {g1, 0, 6}, {g3, 0, 4}, {b1, 0, 5}, {b3, 1},    {b2, 0, 4}, {r2, 0, 5},
                          {b3, 2},    {r3, 0, 5}, {b3, 3}};
constexpr Run layout_26[]{{r0, 0, 8}, {b3, 1},    {b2, 4},    {g0, 0, 8}, {b2, 5},    {g2, 4},
                          {b0, 0, 8}, {b3, 5},    {b3, 4},    {r1, 0, 5}, {g3, 4},    {g2, 0, 4},
                          {g1, 0, 5}, {b3, 0},    {g3, 0, 4}, {b1, 0, 6}, {b2, 0, 4}, {r2, 0, 5},
                          {b3, 2},    {r3, 0, 5}, {b3, 3}};
constexpr Run layout_30[]{{r0, 0, 6}, {g3, 4},    {b3, 0},    {b3, 1},    {b2, 4},    {g0, 0, 6},
                          {g2, 5},    {b2, 5},    {b3, 2},    {g2, 4},    {b0, 0, 6}, {g3, 5},
                          {b3, 3},    {b3, 5},    {b3, 4},    {r1, 0, 6}, {g2, 0, 4}, {g1, 0, 6},
                          {g3, 0, 4}, {b1, 0, 6}, {b2, 0, 4}, {r2, 0, 6}, {r3, 0, 6}};
constexpr Run layout_3[]{{r0, 0, 10}, {g0, 0, 10}, {b0, 0, 10},
                         {r1, 0, 10}, {g1, 0, 10}, {b1, 0, 10}};
constexpr Run layout_7[]{{r0, 0, 10}, {g0, 0, 10}, {b0, 0, 10}, {r1, 0, 9}, {r0, 10},
                         {g1, 0, 9},  {g0, 10},    {b1, 0, 9},  {b0, 10}};
constexpr Run layout_11[]{{r0, 0, 10},       {g0, 0, 10},       {b0, 0, 10},
                          {r1, 0, 8},        {r0, 10, 2, true}, {g1, 0, 8},
                          {g0, 10, 2, true}, {b1, 0, 8},        {b0, 10, 2, true}};
constexpr Run layout_15[]{{r0, 0, 10},       {g0, 0, 10},       {b0, 0, 10},
                          {r1, 0, 4},        {r0, 10, 6, true}, {g1, 0, 4},
                          {g0, 10, 6, true}, {b1, 0, 4},        {b0, 10, 6, true}};

struct Mode {
    bool is_difference;  ///< ends 1 to 3 are counted from end 0
    unsigned subsets;
    unsigned bits;                      ///< of end 0, and of all when they are whole
    std::array<unsigned, 3> more_bits;  ///< of ends 1 to 3: red, green, blue
    std::span<const Run> layout;
};

/// By mode number; none where that is reserved.
const Mode* mode_of(unsigned number) {
    static constexpr std::array<Mode, 14> modes{{{true, 2, 10, {5, 5, 5}, layout_0},
                                                 {true, 2, 7, {6, 6, 6}, layout_1},
                                                 {true, 2, 11, {5, 4, 4}, layout_2},
                                                 {true, 2, 11, {4, 5, 4}, layout_6},
                                                 {true, 2, 11, {4, 4, 5}, layout_10},
                                                 {true, 2, 9, {5, 5, 5}, layout_14},
                                                 {true, 2, 8, {6, 5, 5}, layout_18},
                                                 {true, 2, 8, {5, 6, 5}, layout_22},
                                                 {true, 2, 8, {5, 5, 6}, layout_26},
                                                 {false, 2, 6, {6, 6, 6}, layout_30},
                                                 {false, 1, 10, {10, 10, 10}, layout_3},
                                                 {true, 1, 11, {9, 9, 9}, layout_7},
                                                 {true, 1, 12, {8, 8, 8}, layout_11},
                                                 {true, 1, 16, {4, 4, 4}, layout_15}}};
    if (number < 2) return &modes[number];
    // 2, 6, ... 30, and 3, 7, ... 15.
    if (number % 4 == 2) return &modes[2 + number / 4];
    return number < 16 ? &modes[10 + number / 4] : nullptr;
}

/// Red, green and blue of four ends.
using Ends = std::array<int, 12>;

/// A number of so many bits, in two's complement.
int extended(int value, unsigned bits) {
    const int sign = 1 << (bits - 1);
    return (value ^ sign) - sign;
}

Ends take_ends(BlockBits& block, const Mode& mode, bool is_signed) {
    Ends ends{};
    for (const Run& run : mode.layout) {
        const std::uint32_t bits = block.take(run.count);
        for (unsigned k = 0; k < run.count; ++k) {
            const unsigned to = run.low + (run.highest_first ? run.count - 1U - k : k);
            ends[run.part] |= static_cast<int>((bits >> k & 1U) << to);
        }
    }
    for (unsigned i = 0; i < 6 * mode.subsets; ++i) {
        const unsigned c = i % 3;
        if (i >= 3 && mode.is_difference)
            ends[i] = (ends[c] + extended(ends[i], mode.more_bits[c])) & ((1 << mode.bits) - 1);
        if (is_signed) ends[i] = extended(ends[i], mode.bits);
    }
    return ends;
}

/// An end spread over 16 bits without a sign, or 17 with one.
int spread(int end, unsigned bits, bool is_signed) {
    if (is_signed && end < 0 && bits < 16) return -spread(-end, bits, true);
    if (bits == 16 || end == 0) return end;
    const int most = (1 << (bits - (is_signed ? 1U : 0U))) - 1;
    if (end >= most) return is_signed ? 0x7FFF : 0xFFFF;
    return ((end << 15) + 0x4000) >> (bits - 1);
}

/// The bits of a half.
std::uint16_t half_of(int value, bool is_signed) {
    if (!is_signed) return static_cast<std::uint16_t>(value * 31 >> 6);
    const int size = (value < 0 ? -value : value) * 31 >> 5;
    return static_cast<std::uint16_t>(size | (value < 0 ? 0x8000 : 0));
}

}  // namespace

Bc6hTexels bc6h_texels(const unsigned char* block, bool is_signed) {
    Bc6hTexels texels{};
    BlockBits bits(block);
    unsigned number = bits.take(2);
    if (number >= 2) number |= bits.take(3) << 2;
    const Mode* mode = mode_of(number);
    if (mode == nullptr) return texels;
    Ends ends = take_ends(bits, *mode, is_signed);
    for (int& end : ends) end = spread(end, mode->bits, is_signed);
    const bool is_split = mode->subsets == 2;
    const Partition partition = partition_of(mode->subsets, is_split ? bits.take(5) : 0);
    const unsigned index_bits = is_split ? 3 : 4;
    const Indices indices = take_indices(bits, index_bits, partition);
    for (unsigned i = 0; i < 16; ++i)
        for (unsigned c = 0; c < 3; ++c) {
            const unsigned first = 6U * partition.subsets[i] + c;
            const int value =
                between(ends[first], ends[first + 3], weight_of(index_bits, indices[i]));
            texels[i][c] = half_of(value, is_signed);
        }
    return texels;
}

}  // namespace rakelight
