#include "poses/relief_tile.hpp"

#include <algorithm>
#include <span>
#include <vector>

#include "poses/surface_picture.hpp"

namespace rakelight {
namespace {

ProofSettings look_of(const ReliefSettings& settings) {
    ProofSettings look;  // metal and lamp as poses without a relief have them
    if (!settings.proof) return look;
    look.patina = settings.proof->patina;
    look.patina_mm = settings.proof->patina_mm;
    return look;
}

}  // namespace

ReliefTile::ReliefTile(const Plane& height_mm, const ReliefSettings& settings,
                       const BlankGeometry& blank, const ImageGrid& grid, const TileLook& look)
    : piece_(height_mm, blank, grid, reduced_size(grid.width, grid.height, look.relief_px),
             look_of(settings)),
      surface_size_(reduced_size(grid.width, grid.height, look.surface_px)) {
    const auto [low, high] =
        std::minmax_element(piece_.height_mm().values.begin(), piece_.height_mm().values.end());
    low_mm_ = std::min(0.0, double{*low});
    peak_mm_ = std::max(tile_peak_mm(blank), *high - low_mm_);
}

Image8 ReliefTile::relief() const {
    return piece_.lit({});
}

Image8 ReliefTile::surface() const {
    constexpr int channels = 5;
    const std::size_t pixels = piece_.piece().values.size();
    std::vector<float> values(channels * pixels);
    const auto low = static_cast<float>(low_mm_);
    const auto per_peak = static_cast<float>(1.0 / peak_mm_);
    for (std::size_t i = 0; i < pixels; ++i) {
        const float piece = piece_.piece().values[i];
        const Direction normal = piece_.normal(i);
        float* to = values.data() + channels * i;
        to[0] = piece * normal.x;
        to[1] = piece * normal.y;
        to[2] = piece_.open().values[i];
        to[3] = piece;
        to[4] = (piece_.height_mm().values[i] - piece * low) * per_peak;
    }
    AreaReduction means(piece_.grid().width, piece_.grid().height, channels, surface_size_);
    means.add_rows(std::span<const float>(values));
    SurfacePicture picture(surface_size_);
    const float* mean = means.values().data();
    const std::size_t small = means.values().size() / channels;
    for (std::size_t i = 0; i < small; ++i, mean += channels)
        picture.put(i, {mean[0], mean[1], mean[2], mean[3], mean[4]});
    return picture.image();
}

}  // namespace rakelight
