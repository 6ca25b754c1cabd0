#pragma once
// Numbers for positions, equal ones the same. Private to model/.

#include <algorithm>
#include <bit>
#include <cstdint>

#include "model/soup.hpp"

namespace rakelight {

/// For positions without -0, which equals 0 and has other bits.
inline std::uint64_t hash_of(glm::vec3 p) {
    std::uint64_t h = (std::uint64_t{std::bit_cast<std::uint32_t>(p.x)} << 32) |
                      std::bit_cast<std::uint32_t>(p.y);
    h *= 0x9E3779B97F4A7C15;  // the golden ratio, as in Knuth's multiplicative hashing
    h ^= h >> 29;
    h = (h ^ std::bit_cast<std::uint32_t>(p.z)) * 0xC2B2AE3D27D4EB4F;
    return h ^ (h >> 32);
}

/// Positions and their numbers: open addressing, at most half full. A slot keeps half of the hash
/// beside the number, so that a miss rarely touches the positions.
class PointTable {
public:
    explicit PointTable(std::size_t slots) {
        slots_.assign(std::bit_ceil(std::max<std::size_t>(slots, 1024)), empty);
    }

    void prefetch(std::uint64_t hash) const {
        __builtin_prefetch(&slots_[hash & (slots_.size() - 1)], 1);
    }

    std::uint32_t number_of(glm::vec3 p, std::uint64_t hash) {
        std::size_t at = hash & (slots_.size() - 1);
        for (; slots_[at] != empty; at = (at + 1) & (slots_.size() - 1)) {
            const auto number = static_cast<std::uint32_t>(slots_[at]);
            if (slots_[at] >> 32 == hash >> 32 && positions[number] == p) return number;
        }
        const auto number = static_cast<std::uint32_t>(positions.size());
        positions.push_back(p);
        slots_[at] = (hash >> 32 << 32) | number;
        if (2 * positions.size() > slots_.size()) grow();
        return number;
    }

    /// For a NaN, which equals nothing: never found again.
    std::uint32_t number_apart(glm::vec3 p) {
        positions.push_back(p);
        if (2 * positions.size() > slots_.size()) grow();
        return static_cast<std::uint32_t>(positions.size() - 1);
    }

    Array<glm::vec3> positions;

private:
    // No point has this number: there are fewer than 2^32 corners.
    static constexpr std::uint64_t empty = ~std::uint64_t{0};

    void grow() {
        slots_.assign(4 * slots_.size(), empty);
        for (std::uint32_t number = 0; number < positions.size(); ++number) {
            if (positions[number] != positions[number]) continue;
            const std::uint64_t hash = hash_of(positions[number]);
            std::size_t at = hash & (slots_.size() - 1);
            while (slots_[at] != empty) at = (at + 1) & (slots_.size() - 1);
            slots_[at] = (hash >> 32 << 32) | number;
        }
    }

    Array<std::uint64_t> slots_;
};

}  // namespace rakelight
