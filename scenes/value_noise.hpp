// Seeded, repeatable irregularity: jitter for numbered things, smooth noise for places.
#pragma once

#include <cmath>
#include <cstdint>
#include <glm/vec3.hpp>

// A well-mixed 32-bit hash: the finaliser of MurmurHash3, which is in the public domain.
inline std::uint32_t mix_bits(std::uint32_t bits) {
    bits = (bits ^ (bits >> 16)) * 0x85ebca6bU;
    bits = (bits ^ (bits >> 13)) * 0xc2b2ae35U;
    return bits ^ (bits >> 16);
}

// A fixed random number in [-1, 1] for the index-th thing of the kind that the seed stands for.
inline double jitter(int index, std::uint32_t seed) {
    const auto bits = mix_bits(static_cast<std::uint32_t>(index) * 0x9e3779b9U + mix_bits(seed));
    return static_cast<double>(bits) / 2147483647.5 - 1.0;
}

// Value noise in [-1, 1]: random values on the integers, joined with continuous curvature.
inline double value_noise(double x, std::uint32_t seed) {
    const double cell = std::floor(x);
    const double f = x - cell;
    const double ease = f * f * f * (f * (f * 6.0 - 15.0) + 10.0);
    const int index = static_cast<int>(cell);
    return jitter(index, seed) + ease * (jitter(index + 1, seed) - jitter(index, seed));
}

// One number for a node of the lattice: three large primes, after M. Teschner et al., "Optimized
// Spatial Hashing for Collision Detection of Deformable Objects", VMV 2003.
inline int lattice_index(const glm::ivec3& node) {
    return static_cast<int>(static_cast<std::uint32_t>(node.x) * 73856093U ^
                            static_cast<std::uint32_t>(node.y) * 19349663U ^
                            static_cast<std::uint32_t>(node.z) * 83492791U);
}

inline double value_noise(const glm::dvec3& point, std::uint32_t seed) {
    const auto ease = [](double f) { return f * f * f * (f * (f * 6.0 - 15.0) + 10.0); };
    const glm::dvec3 cell(std::floor(point.x), std::floor(point.y), std::floor(point.z));
    double sum = 0.0;
    for (int corner = 0; corner < 8; ++corner) {
        const glm::ivec3 step(corner & 1, (corner >> 1) & 1, corner >> 2);
        const glm::dvec3 f = point - cell;
        const double weight = (step.x ? ease(f.x) : 1.0 - ease(f.x)) *
                              (step.y ? ease(f.y) : 1.0 - ease(f.y)) *
                              (step.z ? ease(f.z) : 1.0 - ease(f.z));
        sum += weight * jitter(lattice_index(glm::ivec3(cell) + step), seed);
    }
    return sum;
}

// Three octaves of value noise; about [-1, 1].
inline double rough_noise(const glm::dvec3& point, std::uint32_t seed) {
    return (value_noise(point, seed) + 0.5 * value_noise(point * 2.03, seed + 1) +
            0.25 * value_noise(point * 4.11, seed + 2)) /
           1.4;
}
