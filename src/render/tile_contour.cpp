// Outline and inner depth steps as a line one pixel wide; what shaders/contour.frag does. A sample
// lies on the line when a step of more than the setting's lies within half a pixel of it; the
// pixel's value is the share of its samples that do.

#include <algorithm>
#include <utility>

#include "render/tile_patch.hpp"

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

class Patch {
public:
    explicit Patch(int samples) : shape_(samples), lifts_(shape_.size()) {}

    void read(const TileSamples& tile, const Lanes& lanes, int px, int py) {
        float* to = lifts_.data();
        shape_.for_all(lanes, px, py, [&](std::size_t from) {
            const float lift = tile.nearness[from];
            *to++ = lift > 0.0F ? lift : nothing_mm;
        });
    }

    float share_on_line(const Lanes& lanes, float step_mm) const {
        int lit = 0;
        shape_.for_own([&](int at) { lit += on_line(lifts_.data() + at, step_mm) ? 1 : 0; });
        return static_cast<float>(lit) / static_cast<float>(lanes.samples * lanes.samples);
    }

private:
    bool on_line(const float* at, float step_mm) const {
        float low = 1e9F;
        float high = nothing_mm;
        for (const int offset : shape_.near()) {
            low = std::min(low, at[offset]);
            high = std::max(high, at[offset]);
        }
        return high - low > step_mm;
    }

    PatchShape shape_;
    std::vector<float> lifts_;
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
                patch.share_on_line(lanes, setting.contour_step_mm);
        }
    }
}

}  // namespace rakelight
