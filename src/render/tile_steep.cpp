// Where the relief is steeper than a wall may be: by the slope of the surface that is seen, and
// along steps, where two surfaces lie beside each other in the picture with a wall between them
// that the model does not have.

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "render/tile_patch.hpp"

namespace rakelight {
namespace {

// How fast a triangle's nearness changes over the picture, for a mm. A triangle that is seen has an
// area there.
float gradient_of(const SampleMesh& mesh, TriangleRef ref, double mm_per_sub_sample) {
    const auto [a, b, c] = mesh.corners(ref);
    const double bx = static_cast<double>(b->x) - a->x;
    const double by = static_cast<double>(b->y) - a->y;
    const double cx = static_cast<double>(c->x) - a->x;
    const double cy = static_cast<double>(c->y) - a->y;
    const double db = double{b->nearness} - a->nearness;
    const double dc = double{c->nearness} - a->nearness;
    const double area = (bx * cy - cx * by) * mm_per_sub_sample;
    return static_cast<float>(std::hypot((db * cy - dc * by) / area, (dc * bx - db * cx) / area));
}

// What is asked of every sample of a tile.
class Slopes {
public:
    Slopes(const SampleMesh& mesh, const ResolveSetting& setting, const Lanes& lanes,
           const TileSamples& tile)
        : tile_(tile), perspective_(mesh.perspective()), eye_lift_mm_(mesh.eye_lift_mm()) {
        const double mm_per_sub_sample = setting.mm_per_px / lanes.samples / sub_samples;
        for (const Shade& shade : tile.shades) {
            gradients_.push_back(gradient_of(mesh, shade.ref, mm_per_sub_sample));
        }
    }

    // Of the surface at a covered sample. In perspective lift = E n / (1 + n) for the nearness n
    // and the eye's lift E, so that its derivative is E / (1 + n)^2, and 1 / (1 + n) = 1 - lift /
    // E.
    float at(std::size_t sample) const {
        const float gradient = gradients_[tile_.shade[sample] - 1];
        if (!perspective_) return gradient;
        const float rest = 1.0F - tile_.nearness[sample] / eye_lift_mm_;
        return gradient * eye_lift_mm_ * rest * rest;
    }

private:
    const TileSamples& tile_;
    bool perspective_;
    float eye_lift_mm_;
    std::vector<float> gradients_;
};

// Steps between the samples of a pixel and of what lies half a pixel around it.
class StepPatch {
public:
    explicit StepPatch(int samples)
        : shape_(samples), lifts_(shape_.size()), slopes_(shape_.size()) {
        const auto& near = shape_.near();
        for (const int offset : near) {
            for (const int next : {offset + 1, offset + shape_.side()}) {
                if (std::find(near.begin(), near.end(), next) != near.end()) {
                    pairs_.emplace_back(offset, next);
                }
            }
        }
    }

    void read(const TileSamples& tile, const Slopes& slopes, const Lanes& lanes, int px, int py) {
        std::size_t to = 0;
        shape_.for_all(lanes, px, py, [&](std::size_t from) {
            lifts_[to] = tile.nearness[from];
            slopes_[to] = lifts_[to] > 0.0F ? slopes.at(from) : 0.0F;
            ++to;
        });
    }

    // The highest step within half a pixel of a sample: by how much two neighbours differ more than
    // either's own surface would rise between them. The background is no neighbour.
    float step_mm(int at, float spacing_mm) const {
        float most = 0.0F;
        for (const auto& [first, second] : pairs_) {
            const auto a = static_cast<std::size_t>(at + first);
            const auto b = static_cast<std::size_t>(at + second);
            if (lifts_[a] <= 0.0F || lifts_[b] <= 0.0F) continue;
            const float rise = std::max(slopes_[a], slopes_[b]) * spacing_mm;
            most = std::max(most, std::fabs(lifts_[a] - lifts_[b]) - rise);
        }
        return most;
    }

    const PatchShape& shape() const { return shape_; }

private:
    PatchShape shape_;
    std::vector<float> lifts_;
    std::vector<float> slopes_;
    std::vector<std::pair<int, int>> pairs_;  // of places that are neighbours
};

// Whether the covered samples around a pixel differ in height by enough for a step.
bool may_have_step(const TileSamples& tile, int px, int py, float step_mm) {
    float low = std::numeric_limits<float>::max();
    float high = 0.0F;
    for (int y = py - 1; y <= py + 1; ++y) {
        for (int x = px - 1; x <= px + 1; ++x) {
            const auto pixel = static_cast<std::size_t>(y * guarded_px + x);
            if (tile.high_mm[pixel] <= 0.0F) continue;
            low = std::min(low, std::fabs(tile.low_mm[pixel]));
            high = std::max(high, tile.high_mm[pixel]);
        }
    }
    return high - low > step_mm;
}

class SteepTile {
public:
    SteepTile(const SampleMesh& mesh, const ResolveSetting& setting, const Lanes& lanes,
              const TileSamples& tile, SurfaceRows& rows)
        : tile_(tile),
          lanes_(lanes),
          slopes_(mesh, setting, lanes, tile),
          patch_(lanes.samples),
          most_slope_(static_cast<float>(*setting.steep_slope)),
          spacing_mm_(static_cast<float>(setting.mm_per_px / lanes.samples)),
          step_mm_(most_slope_ * spacing_mm_ * static_cast<float>(patch_.shape().width())),
          steep_(rows.steep) {}

    // @param to  the pixel in the rows
    void measure(int px, int py, std::size_t to) {
        const auto pixel = static_cast<std::size_t>(py * guarded_px + px);
        if (tile_.high_mm[pixel] <= 0.0F) return;
        const bool steps = may_have_step(tile_, px, py, step_mm_);
        if (steps) patch_.read(tile_, slopes_, lanes_, px, py);
        int walls = 0;
        int all = 0;
        int lane = 0;
        patch_.shape().for_own([&](int at) {
            const std::size_t sample = pixel * lanes_.count + static_cast<std::size_t>(lane++);
            if (tile_.nearness[sample] <= 0.0F) return;
            const float slope = slopes_.at(sample);
            const float step_mm = steps ? patch_.step_mm(at, spacing_mm_) : 0.0F;
            steep_.slope[to] = std::max(steep_.slope[to], slope);
            steep_.step_mm[to] = std::max(steep_.step_mm[to], step_mm);
            walls += slope > most_slope_ ? 1 : 0;
            all += slope > most_slope_ || step_mm > step_mm_ ? 1 : 0;
        });
        const auto samples = static_cast<float>(lanes_.samples * lanes_.samples);
        steep_.walls[to] = static_cast<float>(walls) / samples;
        steep_.share[to] = static_cast<float>(all) / samples;
    }

private:
    const TileSamples& tile_;
    const Lanes& lanes_;
    Slopes slopes_;
    StepPatch patch_;
    float most_slope_;
    float spacing_mm_;
    float step_mm_;  // what a wall of that slope rises over a pixel
    Steep<std::vector<float>>& steep_;
};

}  // namespace

void measure_steep(const SampleMesh& mesh, const ResolveSetting& setting, TilePlace place,
                   const Lanes& lanes, const TileSamples& tile, SurfaceRows& rows) {
    SteepTile steep(mesh, setting, lanes, tile, rows);
    const int width = std::min(tile_px, rows.width - place.x_px);
    const int height = std::min(tile_px, rows.first_row + rows.rows - place.y_px);
    for (int j = 0; j < height; ++j) {
        for (int i = 0; i < width; ++i) {
            steep.measure(i + tile_guard_px, j + tile_guard_px,
                          rows.index(place.x_px + i, place.y_px + j));
        }
    }
}

}  // namespace rakelight
