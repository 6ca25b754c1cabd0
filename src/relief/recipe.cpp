#include "relief/recipe.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <optional>

#include "relief/blur.hpp"
#include "relief/compress.hpp"
#include "relief/height_range.hpp"
#include "relief/mix.hpp"
#include "relief/pixels.hpp"
#include "relief/tone.hpp"

namespace rakelight {
namespace {

constexpr double usual_detail_share = 1.0 / 120.0;  ///< of the field's shorter side
constexpr double usual_lip_share = 1.0 / 180.0;
constexpr double curvature_share = 0.99;  ///< of the subject's pixels that 0..1 holds
constexpr float level_below = 1e-6F;      ///< of the layers' range: rounding, not form

/// The subject's lowest to 0, its highest to 1.
Plane spread_depth(const ReliefPlanes& planes, double px_per_mm) {
    const HeightRange range = range_of(planes.height_mm, planes.coverage);
    Plane depth(planes.coverage.width, planes.coverage.height);
    if (range.is_level(depth, px_per_mm)) return depth;
    for_subject(planes.coverage, [&](std::size_t i) {
        depth.values[i] = (planes.height_mm.values[i] - range.low) / range.size();
    });
    return depth;
}

/// The magnitude that so large a share of the subject's pixels does not exceed.
float usual_magnitude(const Plane& values, const Plane& coverage) {
    std::vector<float> magnitudes;
    for (std::size_t i = 0; i < values.values.size(); ++i)
        if (coverage.values[i] > 0.0F) magnitudes.push_back(std::abs(values.values[i]));
    if (magnitudes.empty()) return 0.0F;
    const auto at =
        static_cast<std::ptrdiff_t>(curvature_share * static_cast<double>(magnitudes.size() - 1));
    std::nth_element(magnitudes.begin(), magnitudes.begin() + at, magnitudes.end());
    return magnitudes[static_cast<std::size_t>(at)];
}

Plane spread_curvature(const ReliefPlanes& planes) {
    const float largest = usual_magnitude(planes.curvature, planes.coverage);
    Plane result(planes.coverage.width, planes.coverage.height, 0.5F);
    if (largest <= 0.0F) return result;
    for_subject(planes.coverage, [&](std::size_t i) {
        result.values[i] =
            std::clamp(0.5F + 0.5F * planes.curvature.values[i] / largest, 0.0F, 1.0F);
    });
    return result;
}

class Mixing {
public:
    Mixing(const ReliefSettings& settings, const ReliefPlanes& planes, const ReliefScale& scale)
        : settings_(settings),
          planes_(planes),
          scale_(scale),
          work_(planes.coverage.width, planes.coverage.height) {}

    void lay(const ReliefLayer& layer) {
        Plane image = source(layer.source);
        if (layer.blur_mm > 0.0) blur(image, planes_.coverage, layer.blur_mm * scale_.px_per_mm);
        reports_.push_back(set_levels(image, layer));
        if (!layer.curve.empty()) apply_curve(image, ToneCurve(layer.curve));
        const Plane share = share_of(layer);
        if (layer.mix == MixMode::add) {
            add(image, share, layer);
        } else {
            // What was added may lie beyond 0..1, which the modes are not made for.
            if (layer.mix != MixMode::normal) keep_in_range();
            mix_onto(work_, image, share, layer.mix);
        }
    }

    const Plane& work() const { return work_; }
    std::vector<LayerReport> reports() && { return std::move(reports_); }

private:
    Plane source(ReliefSource source) {
        switch (source) {
            case ReliefSource::forms:
                return forms();
            case ReliefSource::depth:
                return spread_depth(planes_, scale_.px_per_mm);
            case ReliefSource::occlusion:
                return planes_.occlusion;
            case ReliefSource::curvature:
                return spread_curvature(planes_);
            case ReliefSource::silhouette:
                return planes_.coverage;
            case ReliefSource::contour:
                return planes_.contour;
        }
        assert(false);
        return {};
    }

    /// Made once, however many layers use it.
    const Plane& forms() {
        if (!forms_) {
            const FormSettings& form = settings_.forms;
            const double side_mm = scale_.field_shorter_side_mm;
            forms_ = compressed_heights(
                planes_.height_mm, planes_.coverage, scale_.px_per_mm,
                {form.squeeze, form.detail, form.detail_mm.value_or(usual_detail_share * side_mm),
                 form.lip_mm.value_or(usual_lip_share * side_mm)});
        }
        return *forms_;
    }

    LayerReport set_levels(Plane& image, const ReliefLayer& layer) const {
        Levels levels = layer.levels;
        if (layer.clip_percent) {
            const Histogram histogram(image, planes_.coverage);
            levels.black = histogram.at_share(*layer.clip_percent / 100.0);
            levels.white = histogram.at_share(1.0 - *layer.clip_percent / 100.0);
            // An image of one value has nothing to spread.
            if (levels.white <= levels.black) levels = {0.0, 1.0, layer.levels.gamma};
        }
        const Clipped clipped = apply_levels(image, levels, planes_.coverage);
        const double pixels = static_cast<double>(std::max<std::uint64_t>(clipped.of, 1));
        return {levels.black, levels.white,
                static_cast<double>(clipped.below + clipped.above) / pixels};
    }

    /// Opacity times mask, on the subject alone.
    Plane share_of(const ReliefLayer& layer) {
        Plane share(work_.width, work_.height);
        std::optional<Plane> mask;
        if (layer.mask) mask = source(*layer.mask);
        const auto opacity = static_cast<float>(layer.opacity);
        for_subject(planes_.coverage, [&](std::size_t i) {
            float open = mask ? mask->values[i] : 1.0F;
            if (layer.mask_reversed) open = 1.0F - open;
            share.values[i] = opacity * open;
        });
        return share;
    }

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
    ReliefScale scale_;
    Plane work_;
    std::optional<Plane> forms_;
    std::vector<LayerReport> reports_;
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

double range_used(Plane heights_mm, const Plane& coverage, double whole_mm) {
    for (float& v : heights_mm.values) v = static_cast<float>(v / whole_mm);
    return Histogram(heights_mm, coverage).used_range();
}

bool uses(const ReliefSettings& relief, ReliefSource source) {
    return std::any_of(relief.layers.begin(), relief.layers.end(), [&](const ReliefLayer& layer) {
        return layer.source == source || layer.mask == source;
    });
}

}  // namespace

ReliefNeeds needs_of(const ReliefSettings& relief) {
    return {uses(relief, ReliefSource::occlusion), uses(relief, ReliefSource::curvature),
            uses(relief, ReliefSource::contour)};
}

Relief mix_relief(const ReliefSettings& settings, const ReliefPlanes& planes,
                  const ReliefScale& scale) {
    Mixing mixing(settings, planes, scale);
    for (const ReliefLayer& layer : settings.layers) mixing.lay(layer);
    Relief relief;
    relief.height_mm = heights_mm(mixing.work(), planes.coverage, settings);
    relief.depth_range_used =
        range_used(spread_depth(planes, scale.px_per_mm), planes.coverage, 1.0);
    relief.range_used =
        range_used(relief.height_mm, planes.coverage, settings.base_mm + settings.height_mm);
    relief.layers = std::move(mixing).reports();
    return relief;
}

}  // namespace rakelight
