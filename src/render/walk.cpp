#include "render/walk.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace rakelight {
namespace {

// Each tap lies this much farther out than the last one. Measured on grooves, steps and wells, what
// that misses is below 0.01 of open share, and 1.05 would win little more.
constexpr double tap_ratio = 1.08;

// Directions of one octant pair with their weights. For nodes at 0, 18.43, 33.69 and 45 degrees
// mirrored to all twelve, the weights make sums of cos(4 k phi) vanish for k = 1, 2, 3, as the
// integral does: a linear system of four equations, solved here once by hand-free elimination.
std::array<double, 4> quadrature_weights() {
    const double pi = std::numbers::pi;
    const std::array<double, 4> phi{0.0, std::atan2(1.0, 3.0), std::atan2(2.0, 3.0), pi / 4.0};
    const std::array<double, 4> count{2.0, 4.0, 4.0, 2.0};  // slices that share each weight
    double m[4][5];
    for (int row = 0; row < 4; ++row) {
        for (int i = 0; i < 4; ++i) m[row][i] = count[i] * std::cos(4.0 * row * phi[i]);
        m[row][4] = row == 0 ? 1.0 : 0.0;
    }
    for (int pivot = 0; pivot < 4; ++pivot) {
        for (int row = 0; row < 4; ++row) {
            if (row == pivot) continue;
            const double factor = m[row][pivot] / m[pivot][pivot];
            for (int i = pivot; i < 5; ++i) m[row][i] -= factor * m[pivot][i];
        }
    }
    return {m[0][4] / m[0][0], m[1][4] / m[1][1], m[2][4] / m[2][2], m[3][4] / m[3][3]};
}

std::vector<Slice> make_slices() {
    const auto w = quadrature_weights();
    return {{{1, 0}, w[0]},  {{3, 1}, w[1]},  {{3, 2}, w[2]},  {{1, 1}, w[3]},
            {{2, 3}, w[2]},  {{1, 3}, w[1]},  {{0, 1}, w[0]},  {{-1, 3}, w[1]},
            {{-2, 3}, w[2]}, {{-1, 1}, w[3]}, {{-3, 2}, w[2]}, {{-3, 1}, w[1]}};
}

int longer_step(const Slice& slice) {
    return std::max(std::abs(slice.step_px.x), std::abs(slice.step_px.y));
}

// Where a slice's taps start, as a share of their ratio: the same for all that mirroring and
// quarter turns make of a slice, so that such a turn of the model turns the picture and no more.
double phase_of(const Slice& slice) {
    const int shorter = std::min(std::abs(slice.step_px.x), std::abs(slice.step_px.y));
    if (longer_step(slice) == 1) return shorter == 0 ? 0.0 : 0.5;
    return shorter == 1 ? 0.25 : 0.75;
}

// Distances in steps of the slice's longer axis, ascending, the last just within the reach. Far
// out only such as meet a pixel's centre, which halves the look-ups.
std::vector<int> step_counts(double reach_steps, double ratio, double phase, int longer) {
    const int last = std::max(static_cast<int>(std::ceil(reach_steps)) - 1, 1);
    std::vector<int> steps;
    for (double at = std::pow(ratio, phase); at < last; at *= ratio) {
        const int grid = at * (ratio - 1.0) >= longer ? longer : 1;
        const int whole = grid * static_cast<int>(std::lround(at / grid));
        if (whole < last && (steps.empty() || whole > steps.back())) steps.push_back(whole);
    }
    steps.push_back(last);
    return steps;
}

// Steps along the longer axis are whole; across it they fall between two pixels.
SliceTap tap_at(const Slice& slice, int steps) {
    const bool wide = slice.across_px.y != 0;
    const int longer = wide ? slice.step_px.x : slice.step_px.y;
    const int shorter = wide ? slice.step_px.y : slice.step_px.x;
    const int major = longer > 0 ? steps : -steps;
    const double minor = static_cast<double>(major) * shorter / longer;
    const int low = static_cast<int>(std::floor(minor + 1e-9));
    const double share = minor - low;
    SliceTap tap;
    tap.first_px = wide ? glm::ivec2(major, low) : glm::ivec2(low, major);
    tap.share = share < 1e-6 ? 0.0 : share;
    tap.distance_px = std::hypot(static_cast<double>(major), minor);
    return tap;
}

void append_taps(OcclusionWalk& walk, Slice& slice, double reach_px, double ratio) {
    const bool wide = std::abs(slice.step_px.x) >= std::abs(slice.step_px.y);
    slice.across_px = wide ? glm::ivec2(0, 1) : glm::ivec2(1, 0);
    const int longer = longer_step(slice);
    const double step_px = glm::length(glm::dvec2(slice.step_px)) / longer;
    const double phase = phase_of(slice);
    const auto steps = step_counts(reach_px / step_px, ratio, phase, longer);
    for (const int count : steps) walk.taps.push_back(tap_at(slice, count));
    slice.tap_count = static_cast<int>(steps.size());
    walk.reach_px = std::max(walk.reach_px, steps.back() + 1);
}

OcclusionWalk walk_by_ratio(double reach_px, double ratio) {
    OcclusionWalk walk;
    walk.slices = make_slices();
    for (auto& slice : walk.slices) append_taps(walk, slice, reach_px, ratio);
    return walk;
}

}  // namespace

OcclusionWalk make_occlusion_walk(double reach_px) {
    for (double ratio = tap_ratio;; ratio *= 1.02) {  // wider only for a very long reach
        OcclusionWalk walk = walk_by_ratio(reach_px, ratio);
        if (walk.taps.size() <= max_walk_taps) return walk;
    }
}

}  // namespace rakelight
