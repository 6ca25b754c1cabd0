// Outline and inner depth steps as a line one pixel wide; what shaders/contour.frag does. A sample
// lies on the line when a step of more than the setting's lies within half a pixel of it; the
// pixel's value is the share of its samples that do.

#include <algorithm>
#include <utility>

#include "render/tile_samples.hpp"

namespace rakelight {
namespace {

constexpr float nothing_mm = -1e9F;  // the background lies below everything

bool any_step_near(const TileSamples& tile, int px, int py, float step_mm) {
    float low = 1e9F;
    float high = nothing_mm;
    for (int y = py - 1; y <= py + 1; ++y) {
        for (int x = px - 1; x <= px + 1; ++x) {
            const auto pixel = static_cast<std::size_t>(y * guarded_px + x);
            const float lowest = tile.low_mm[pixel];
            const float highest = tile.high_mm[pixel];
            low = std::min(low, lowest > 0.0F ? lowest : nothing_mm);
            high = std::max(high, highest > 0.0F ? highest : nothing_mm);
        }
    }
    return high - low > step_mm;
}

// The samples of a pixel and of what lies half a pixel around it.
class Patch {
public:
    explicit Patch(int samples)
        : samples_(samples),
          reach_((samples + 1) / 2),
          side_(samples + 2 * reach_),
          lifts_(static_cast<std::size_t>(side_ * side_)) {
        const float reach_squared = std::max(0.25F * static_cast<float>(samples * samples), 1.0F);
        for (int y = -reach_; y <= reach_; ++y) {
            for (int x = -reach_; x <= reach_; ++x) {
                if (static_cast<float>(x * x + y * y) > reach_squared) continue;
                near_.push_back(y * side_ + x);
            }
        }
    }

    void read(const TileSamples& tile, const Lanes& lanes, int px, int py) {
        float* to = lifts_.data();
        for (int y = py * samples_ - reach_; y < (py + 1) * samples_ + reach_; ++y) {
            for (int x = px * samples_ - reach_; x < (px + 1) * samples_ + reach_; ++x) {
                const int pixel = y / samples_ * guarded_px + x / samples_;
                const int lane = y % samples_ * samples_ + x % samples_;
                const float lift =
                    tile.nearness[static_cast<std::size_t>(pixel) * lanes.count + lane];
                *to++ = lift > 0.0F ? lift : nothing_mm;
            }
        }
    }

    float share_on_line(float step_mm) const {
        int lit = 0;
        for (int y = reach_; y < reach_ + samples_; ++y) {
            for (int x = reach_; x < reach_ + samples_; ++x) {
                lit += on_line(lifts_.data() + y * side_ + x, step_mm) ? 1 : 0;
            }
        }
        return static_cast<float>(lit) / static_cast<float>(samples_ * samples_);
    }

private:
    bool on_line(const float* at, float step_mm) const {
        float low = 1e9F;
        float high = nothing_mm;
        for (const int offset : near_) {
            low = std::min(low, at[offset]);
            high = std::max(high, at[offset]);
        }
        return high - low > step_mm;
    }

    int samples_;
    int reach_;
    int side_;
    std::vector<float> lifts_;
    std::vector<int> near_;
};

}  // namespace

void trace_tile(const ResolveSetting& setting, TilePlace place, const Lanes& lanes,
                const TileSamples& tile, SurfaceRows& rows) {
    Patch patch(lanes.samples);
    const int width = std::min(tile_px, rows.width - place.x_px);
    const int height = std::min(tile_px, rows.first_row + rows.rows - place.y_px);
    for (int j = 0; j < height; ++j) {
        for (int i = 0; i < width; ++i) {
            const int px = i + tile_guard_px;
            const int py = j + tile_guard_px;
            if (!any_step_near(tile, px, py, setting.contour_step_mm)) continue;
            patch.read(tile, lanes, px, py);
            rows.contour[rows.index(place.x_px + i, place.y_px + j)] =
                patch.share_on_line(setting.contour_step_mm);
        }
    }
}

}  // namespace rakelight
