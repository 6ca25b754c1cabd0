#pragma once
// What BC6H and BC7 share: how the bits of a block are taken, which texels belong together, and
// the steps between two ends (OpenGL, ARB_texture_compression_bptc: tables P2, P3, A2, A3a and
// A3b). Private to picture_bc6h.cpp and picture_bc7.cpp.

#include <array>
#include <cstdint>

namespace rakelight::bptc {

/// The 128 bits of a block, from the lowest one up.
class BlockBits {
public:
    explicit BlockBits(const unsigned char* block) {
        for (unsigned k = 0; k < 16; ++k) words_[k / 8] |= std::uint64_t{block[k]} << k % 8 * 8;
    }

    /// @param count  0 to 16
    std::uint32_t take(unsigned count) {
        const std::uint32_t bits = static_cast<std::uint32_t>(words_[0]) & ((1U << count) - 1U);
        if (count > 0) {
            words_[0] = words_[0] >> count | words_[1] << (64 - count);
            words_[1] >>= count;
        }
        return bits;
    }

private:
    std::array<std::uint64_t, 2> words_{};
};

/// One bit a texel, the first one lowest: which of two subsets it is of.
inline constexpr std::array<std::uint16_t, 64> two_subsets{
    0xCCCC, 0x8888, 0xEEEE, 0xECC8, 0xC880, 0xFEEC, 0xFEC8, 0xEC80, 0xC800, 0xFFEC, 0xFE80,
    0xE800, 0xFFE8, 0xFF00, 0xFFF0, 0xF000, 0xF710, 0x008E, 0x7100, 0x08CE, 0x008C, 0x7310,
    0x3100, 0x8CCE, 0x088C, 0x3110, 0x6666, 0x366C, 0x17E8, 0x0FF0, 0x718E, 0x399C, 0xAAAA,
    0xF0F0, 0x5A5A, 0x33CC, 0x3C3C, 0x55AA, 0x9696, 0xA55A, 0x73CE, 0x13C8, 0x324C, 0x3BDC,
    0x6996, 0xC33C, 0x9966, 0x0660, 0x0272, 0x04E4, 0x4E40, 0x2720, 0xC936, 0x936C, 0x39C6,
    0x639C, 0x9336, 0x9CC6, 0x817E, 0xE718, 0xCCF0, 0x0FCC, 0x7744, 0xEE22};

/// Two bits a texel: which of three subsets.
inline constexpr std::array<std::uint32_t, 64> three_subsets{
    0xAA685050, 0x6A5A5040, 0x5A5A4200, 0x5450A0A8, 0xA5A50000, 0xA0A05050, 0x5555A0A0, 0x5A5A5050,
    0xAA550000, 0xAA555500, 0xAAAA5500, 0x90909090, 0x94949494, 0xA4A4A4A4, 0xA9A59450, 0x2A0A4250,
    0xA5945040, 0x0A425054, 0xA5A5A500, 0x55A0A0A0, 0xA8A85454, 0x6A6A4040, 0xA4A45000, 0x1A1A0500,
    0x0050A4A4, 0xAAA59090, 0x14696914, 0x69691400, 0xA08585A0, 0xAA821414, 0x50A4A450, 0x6A5A0200,
    0xA9A58000, 0x5090A0A8, 0xA8A09050, 0x24242424, 0x00AA5500, 0x24924924, 0x24499224, 0x50A50A50,
    0x500AA550, 0xAAAA4444, 0x66660000, 0xA5A0A5A0, 0x50A050A0, 0x69286928, 0x44AAAA44, 0x66666600,
    0xAA444444, 0x54A854A8, 0x95809580, 0x96969600, 0xA85454A8, 0x80959580, 0xAA141414, 0x96960000,
    0xAAAA1414, 0xA05050A0, 0xA0A5A5A0, 0x96000000, 0x40804080, 0xA9A8A9A8, 0xAAAAAA44, 0x2A4A5254};

// The texel of a subset whose index is stored without its highest bit, which is 0. That of the
// first subset is texel 0.
using Anchors = std::array<std::uint8_t, 64>;
inline constexpr Anchors second_of_two{
    15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 2,  8, 2, 2, 8,
    8,  15, 2,  8,  2,  2,  8,  8,  2,  2,  15, 15, 6,  8,  2,  8,  15, 15, 2, 8, 2, 2,
    2,  15, 15, 6,  6,  2,  6,  8,  15, 15, 2,  2,  15, 15, 15, 15, 15, 2,  2, 15};
inline constexpr Anchors second_of_three{
    3,  3,  15, 15, 8, 3,  15, 15, 8,  8,  6, 6,  6, 5,  3, 3,  3,  3,  8,  15, 3,  3,
    6,  10, 5,  8,  8, 6,  8,  5,  15, 15, 8, 15, 3, 5,  6, 10, 8,  15, 15, 3,  15, 5,
    15, 15, 15, 15, 3, 15, 5,  5,  5,  8,  5, 10, 5, 10, 8, 13, 15, 12, 3,  3};
inline constexpr Anchors third_of_three{
    15, 8, 8, 3,  15, 15, 3,  8,  15, 15, 15, 15, 15, 15, 15, 8,  15, 8,  15, 3,  15, 8,
    15, 8, 3, 15, 6,  10, 15, 15, 10, 8,  15, 3,  15, 10, 10, 8,  9,  10, 6,  15, 8,  15,
    3,  6, 6, 8,  15, 3,  15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 3,  15, 15, 8};

/// Which subset each texel is of, and which texels have a short index.
struct Partition {
    std::array<std::uint8_t, 16> subsets{};
    std::array<bool, 16> short_index{};
};

/// @param count   of subsets, 1 to 3
/// @param number  of the partition, below 64; 0 where there is one subset
inline Partition partition_of(unsigned count, unsigned number) {
    Partition p;
    p.short_index[0] = true;
    if (count == 2) p.short_index[second_of_two[number]] = true;
    if (count == 3)
        p.short_index[second_of_three[number]] = p.short_index[third_of_three[number]] = true;
    for (unsigned i = 0; i < 16 && count > 1; ++i)
        p.subsets[i] = static_cast<std::uint8_t>(count == 2 ? two_subsets[number] >> i & 1U
                                                            : three_subsets[number] >> 2 * i & 3U);
    return p;
}

using Indices = std::array<std::uint8_t, 16>;

/// @param bits  of one index, 2 to 4
inline Indices take_indices(BlockBits& block, unsigned bits, const Partition& partition) {
    Indices indices{};
    for (unsigned i = 0; i < 16; ++i)
        indices[i] =
            static_cast<std::uint8_t>(block.take(bits - (partition.short_index[i] ? 1U : 0U)));
    return indices;
}

/// How much of the second end is in a step, in parts of 64.
inline int weight_of(unsigned bits, unsigned index) {
    constexpr std::array<std::uint8_t, 4> four{0, 21, 43, 64};
    constexpr std::array<std::uint8_t, 8> eight{0, 9, 18, 27, 37, 46, 55, 64};
    constexpr std::array<std::uint8_t, 16> sixteen{0,  4,  9,  13, 17, 21, 26, 30,
                                                   34, 38, 43, 47, 51, 55, 60, 64};
    return bits == 2 ? four[index] : bits == 3 ? eight[index] : sixteen[index];
}

/// Rounded half up, below 0 too.
inline int between(int first, int second, int weight) {
    return ((64 - weight) * first + weight * second + 32) >> 6;
}

}  // namespace rakelight::bptc
