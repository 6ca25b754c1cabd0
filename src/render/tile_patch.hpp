#pragma once
// Private to render/: the samples of a pixel and of what lies half a pixel around it.

#include <algorithm>
#include <vector>

#include "render/tile_samples.hpp"

namespace rakelight {

/// A square of samples around a pixel, row by row, and where half a pixel reaches from one of them.
class PatchShape {
public:
    explicit PatchShape(int samples)
        : samples_(samples), reach_((samples + 1) / 2), side_(samples + 2 * reach_) {
        const float reach_squared = std::max(0.25F * static_cast<float>(samples * samples), 1.0F);
        for (int y = -reach_; y <= reach_; ++y) {
            for (int x = -reach_; x <= reach_; ++x) {
                if (static_cast<float>(x * x + y * y) > reach_squared) continue;
                near_.push_back(y * side_ + x);
            }
        }
    }

    int side() const { return side_; }
    std::size_t size() const { return static_cast<std::size_t>(side_) * side_; }
    /// Places relative to a sample's that are at most half a pixel away, or a whole one where a
    /// pixel has a single sample.
    const std::vector<int>& near() const { return near_; }
    /// How far two of them are apart at most, in samples.
    int width() const { return std::max(samples_, 2); }

    /// Calls take(place) for the pixel's own samples.
    template <typename Take>
    void for_own(const Take& take) const {
        for (int y = reach_; y < reach_ + samples_; ++y) {
            for (int x = reach_; x < reach_ + samples_; ++x) take(y * side_ + x);
        }
    }

    /// Calls put(index) with the index in the tile of each sample of the patch, in order.
    template <typename Put>
    void for_all(const Lanes& lanes, int px, int py, const Put& put) const {
        for (int y = py * samples_ - reach_; y < (py + 1) * samples_ + reach_; ++y) {
            for (int x = px * samples_ - reach_; x < (px + 1) * samples_ + reach_; ++x) {
                const int pixel = y / samples_ * guarded_px + x / samples_;
                const int lane = y % samples_ * samples_ + x % samples_;
                put(static_cast<std::size_t>(pixel) * lanes.count + lane);
            }
        }
    }

private:
    int samples_;
    int reach_;
    int side_;
    std::vector<int> near_;
};

}  // namespace rakelight
