#include "relief/recipe.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "image/pixels.hpp"
#include "relief/height_range.hpp"
#include "relief/layers.hpp"
#include "relief/mix.hpp"
#include "relief/tone.hpp"

namespace rakelight {
namespace {

constexpr float level_below = 1e-6F;  ///< of the layers' range: rounding, not form

class Mixing {
public:
    Mixing(const ReliefSettings& settings, const ReliefPlanes& planes, Layers& layers)
        : settings_(settings),
          planes_(planes),
          layers_(layers),
          work_(planes.coverage.width, planes.coverage.height) {}

    LayerReport lay(const ReliefLayer& layer) {
        LayerReport report;
        const Plane image = layers_.image(layer, planes_.coverage, report);
        const Plane share = layers_.share(layer, planes_.coverage);
        if (layer.mix == MixMode::add) {
            add(image, share, layer);
        } else {
            // What was added may lie beyond 0..1, which the modes are not made for.
            if (layer.mix != MixMode::normal) keep_in_range();
            mix_onto(work_, image, share, layer.mix);
        }
        return report;
    }

    const Plane& work() const { return work_; }

private:
    void add(const Plane& image, const Plane& share, const ReliefLayer& layer) {
        const auto amount = static_cast<float>(layer.amount_mm / settings_.height_mm);
        // A signed image adds nothing where it says nothing, and takes away where it is hollow.
        const bool is_signed = layer.source == ReliefSource::curvature;
        for_subject(planes_.coverage, [&](std::size_t i) {
            const float v = is_signed ? 2.0F * image.values[i] - 1.0F : image.values[i];
            work_.values[i] += amount * share.values[i] * v;
        });
    }

    void keep_in_range() {
        for_subject(planes_.coverage, [&](std::size_t i) {
            work_.values[i] = std::clamp(work_.values[i], 0.0F, 1.0F);
        });
    }

    const ReliefSettings& settings_;
    const ReliefPlanes& planes_;
    Layers& layers_;
    Plane work_;
};

/// The subject's lowest to base, its highest to base and height, in mm.
Plane heights_mm(const Plane& mixed, const Plane& coverage, const ReliefSettings& settings) {
    const HeightRange range = range_of(mixed, coverage);
    const bool level = !(range.size() > level_below);
    const float scale = level ? 0.0F : static_cast<float>(settings.height_mm) / range.size();
    const auto base = static_cast<float>(settings.base_mm);
    Plane heights(mixed.width, mixed.height);
    for_subject(coverage, [&](std::size_t i) {
        heights.values[i] = coverage.values[i] * (base + (mixed.values[i] - range.low) * scale);
    });
    return heights;
}

Histogram histogram_of(Plane heights_mm, const Plane& coverage, double whole_mm) {
    for (float& v : heights_mm.values) v = static_cast<float>(v / whole_mm);
    return Histogram(heights_mm, coverage);
}

bool uses(const ReliefSettings& relief, ReliefSource source) {
    return std::any_of(relief.layers.begin(), relief.layers.end(), [&](const ReliefLayer& layer) {
        return layer.source == source || layer.mask == source;
    });
}

}  // namespace

ReliefNeeds needs_of(const ReliefSettings& relief) {
    return {uses(relief, ReliefSource::occlusion), uses(relief, ReliefSource::curvature),
            uses(relief, ReliefSource::contour), uses(relief, ReliefSource::undercut),
            uses(relief, ReliefSource::steep)};
}

Relief mix_relief(const ReliefSettings& settings, const ReliefPlanes& planes,
                  const ReliefScale& scale) {
    Layers layers(settings, planes, scale);
    return mix_relief(settings, planes, layers);
}

Relief mix_relief(const ReliefSettings& settings, const ReliefPlanes& planes, Layers& layers) {
    Mixing mixing(settings, planes, layers);
    Relief relief;
    for (const ReliefLayer& layer : settings.layers) {
        relief.layers.push_back(layer.place == LayerPlace::subject ? mixing.lay(layer)
                                                                   : LayerReport{});
    }
    relief.height_mm = heights_mm(mixing.work(), planes.coverage, settings);
    relief.high_mm = settings.base_mm + settings.height_mm;
    const Histogram depth(layers.depth(), planes.coverage);
    const Histogram height = histogram_of(relief.height_mm, planes.coverage, relief.high_mm);
    relief.depth_range_used = depth.used_range();
    relief.range_used = height.used_range();
    relief.depth_shares = depth.shares(height_parts);
    relief.height_shares = height.shares(height_parts);
    return relief;
}

}  // namespace rakelight
