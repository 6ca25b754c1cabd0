// BC7, by OpenGL's ARB_texture_compression_bptc, table M and what stands before it.

#include <algorithm>
#include <bit>
#include <utility>

#include "model/pictures/picture_bptc.hpp"
#include "model/pictures/picture_bptc_parts.hpp"

namespace rakelight {
namespace {

using namespace bptc;

/// Fields stand in a block in this order; the ends of the colours before those of the alpha.
struct Mode {
    unsigned subsets, partition_bits, rotation_bits, selection_bits, colour_bits, alpha_bits;
    bool own_low_bits, shared_low_bits;  ///< one more bit for each end, or for both of a subset
    unsigned index_bits, second_index_bits;
};

constexpr std::array<Mode, 8> modes{{{3, 4, 0, 0, 4, 0, true, false, 3, 0},
                                     {2, 6, 0, 0, 6, 0, false, true, 3, 0},
                                     {3, 6, 0, 0, 5, 0, false, false, 2, 0},
                                     {2, 6, 0, 0, 7, 0, true, false, 2, 0},
                                     {1, 0, 2, 1, 5, 6, false, false, 2, 3},
                                     {1, 0, 2, 0, 7, 8, false, false, 2, 2},
                                     {1, 0, 0, 0, 7, 7, true, false, 4, 0},
                                     {2, 6, 0, 0, 5, 5, true, false, 2, 0}}};

using Colour = std::array<std::uint32_t, 4>;

/// Both ends of a subset side by side.
using Ends = std::array<Colour, 6>;

/// To 8 bits: the highest ones again in the lowest.
std::uint32_t widened(std::uint32_t value, unsigned bits) {
    return value << (8 - bits) | value >> (2 * bits - 8);
}

Ends take_ends(BlockBits& block, const Mode& mode) {
    Ends ends{};
    const unsigned count = 2 * mode.subsets, channels = mode.alpha_bits > 0 ? 4 : 3;
    const std::array<unsigned, 4> bits{mode.colour_bits, mode.colour_bits, mode.colour_bits,
                                       mode.alpha_bits};
    for (unsigned c = 0; c < channels; ++c)
        for (unsigned e = 0; e < count; ++e) ends[e][c] = block.take(bits[c]);
    const bool has_low_bits = mode.own_low_bits || mode.shared_low_bits;
    std::uint32_t low_bit = 0;
    for (unsigned e = 0; e < count; ++e) {
        if (mode.own_low_bits || (mode.shared_low_bits && e % 2 == 0)) low_bit = block.take(1);
        for (unsigned c = 0; c < channels; ++c) {
            if (has_low_bits) ends[e][c] = ends[e][c] << 1 | low_bit;
            ends[e][c] = widened(ends[e][c], bits[c] + (has_low_bits ? 1 : 0));
        }
        if (channels == 3) ends[e][3] = 255;
    }
    return ends;
}

}  // namespace

Bc7Texels bc7_texels(const unsigned char* block) {
    Bc7Texels texels{};
    const auto number = static_cast<unsigned>(std::countr_zero(unsigned{block[0]}));
    if (number >= modes.size()) return texels;
    const Mode& mode = modes[number];
    BlockBits bits(block);
    bits.take(number + 1);
    const Partition partition = partition_of(mode.subsets, bits.take(mode.partition_bits));
    const unsigned rotation = bits.take(mode.rotation_bits);
    const bool swapped = bits.take(mode.selection_bits) == 1;
    const Ends ends = take_ends(bits, mode);
    struct Steps {
        unsigned bits;
        Indices indices;
    };
    Steps colour{mode.index_bits, take_indices(bits, mode.index_bits, partition)};
    Steps alpha = colour;
    if (mode.second_index_bits > 0)
        alpha = {mode.second_index_bits, take_indices(bits, mode.second_index_bits, partition)};
    if (swapped) std::swap(colour, alpha);
    for (unsigned i = 0; i < 16; ++i) {
        const unsigned first = 2U * partition.subsets[i];
        for (unsigned c = 0; c < 4; ++c) {
            const Steps& steps = c < 3 ? colour : alpha;
            texels[i][c] = static_cast<std::uint8_t>(
                between(static_cast<int>(ends[first][c]), static_cast<int>(ends[first + 1][c]),
                        weight_of(steps.bits, steps.indices[i])));
        }
        if (rotation > 0) std::swap(texels[i][3], texels[i][rotation - 1]);
    }
    return texels;
}

}  // namespace rakelight
