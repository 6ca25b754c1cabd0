#include "relief/layers.hpp"

#include <algorithm>
#include <cassert>
#include <cstddef>

#include "image/pixels.hpp"
#include "relief/blur.hpp"
#include "relief/compress.hpp"
#include "relief/spread.hpp"
#include "relief/tone.hpp"

namespace rakelight {
namespace {

constexpr double usual_detail_share = 1.0 / 120.0;  ///< of the field's shorter side
constexpr double usual_lip_share = 1.0 / 180.0;

LayerReport set_levels(Plane& image, const ReliefLayer& layer, const Plane& domain) {
    Levels levels = layer.levels;
    if (layer.clip_percent) {
        const Histogram histogram(image, domain);
        levels.black = histogram.at_share(*layer.clip_percent / 100.0);
        levels.white = histogram.at_share(1.0 - *layer.clip_percent / 100.0);
        // An image of one value has nothing to spread.
        if (levels.white <= levels.black) levels = {0.0, 1.0, layer.levels.gamma};
    }
    const Clipped clipped = apply_levels(image, levels, domain);
    const double pixels = static_cast<double>(std::max<std::uint64_t>(clipped.of, 1));
    return {levels.black, levels.white,
            static_cast<double>(clipped.below + clipped.above) / pixels};
}

}  // namespace

Plane Layers::source(const SourceChoice& source) {
    switch (source.pass) {
        case ReliefSource::forms:
            return forms();
        case ReliefSource::depth:
            return depth();
        case ReliefSource::occlusion:
            return planes_.occlusion;
        case ReliefSource::curvature:
            return spread_curvature(planes_);
        case ReliefSource::silhouette:
            return planes_.coverage;
        case ReliefSource::contour:
            return planes_.contour;
        case ReliefSource::undercut:
            return spread_undercut(planes_);
        case ReliefSource::steep:
            return planes_.steep;
        case ReliefSource::named:
            return planes_.named[source.named].value;
    }
    assert(false);
    return {};
}

// Both are made once, however many layers use them.

const Plane& Layers::depth() {
    if (!depth_) depth_ = spread_depth(planes_, scale_.px_per_mm);
    return *depth_;
}

const Plane& Layers::forms() {
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

Plane Layers::image(const ReliefLayer& layer, const Plane& domain, LayerReport& report) {
    Plane image = source(layer.source);
    if (layer.blur_mm > 0.0) blur(image, domain, layer.blur_mm * scale_.px_per_mm);
    report = set_levels(image, layer, domain);
    if (!layer.curve.empty()) apply_curve(image, ToneCurve(layer.curve));
    return image;
}

Plane Layers::share(const ReliefLayer& layer, const Plane& domain) {
    Plane share(domain.width, domain.height);
    std::optional<Plane> mask;
    if (layer.mask) mask = source(*layer.mask);
    const auto existing = [&](const SourceChoice& choice) -> const Plane* {
        if (choice.pass != ReliefSource::named) return nullptr;
        const Plane& plane = planes_.named[choice.named].share;
        return plane.values.empty() ? nullptr : &plane;
    };
    const Plane* own = existing(layer.source);
    const Plane* of_mask = layer.mask ? existing(*layer.mask) : nullptr;
    const auto opacity = static_cast<float>(layer.opacity);
    for_subject(domain, [&](std::size_t i) {
        float open = mask ? mask->values[i] : 1.0F;
        if (of_mask) open *= of_mask->values[i];
        if (layer.mask_reversed) open = 1.0F - open;
        if (own) open *= own->values[i];
        share.values[i] = opacity * open;
    });
    return share;
}

}  // namespace rakelight
