#pragma once
// Occlusion as its definition says: the cosine-weighted share of rays over a place that meet
// nothing within the reach. Monte Carlo, stratified, with a fixed seed.

#include <functional>

#include "traced_picture.hpp"

namespace reference {

inline constexpr int rays_per_pixel = 1024;

/// Whether anything lies on the way; as MeshTracer::blocked.
using Blocked = std::function<bool(glm::dvec3 from, glm::dvec3 direction, double reach_mm)>;

/// The open share of pixel (x, y): over its covered samples, from each of them a share of
/// rays_per_pixel rays about its own normal.
struct OpenShare {
    double value = 1.0;
    double half_difference = 0.0;  ///< of the means of two halves of the rays: tells the noise
};
OpenShare traced_open_share(const SampleGrid& grid, int x, int y, double reach_mm,
                            const Blocked& blocked);

}  // namespace reference
