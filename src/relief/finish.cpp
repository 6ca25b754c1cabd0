#include "relief/finish.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "image/pixels.hpp"
#include "image/row_bands.hpp"
#include "relief/edge_distance.hpp"
#include "relief/layers.hpp"
#include "relief/sources.hpp"

namespace rakelight {
namespace {

double smooth(double t) {
    t = std::clamp(t, 0.0, 1.0);
    return t * t * (3.0 - 2.0 * t);
}

/// What is left of the relief's height, from point to point.
class Fades {
public:
    Fades(const ReliefSettings& settings, const Plane& coverage, const BlankGeometry& blank,
          double px_per_mm)
        : fade_(settings.fade),
          coverage_(coverage),
          blank_(blank),
          px_per_mm_(px_per_mm),
          line_mm_(settings.fade.exergue_line_mm.value_or(blank.exergue_line_mm())) {
        const double end_mm = std::max(0.0, blank.rim_height_mm() - fade_.rim_below_mm);
        rim_end_ = std::min(1.0, end_mm / (settings.base_mm + settings.height_mm));
        if (fade_.edge_mm > 0.0) edge_px_ = edge_distance_px(coverage, edge_width_px() + 1.0F);
    }

    double at(int x, int y, glm::dvec2 p_mm) const {
        double left = 1.0;
        if (edge_px_) left *= rolled_share(edge_px_->at(x, y), coverage_.at(x, y));
        left *= above_exergue(p_mm);
        if (fade_.rim_mm > 0.0) {
            const double inside = smooth(-blank_.field_distance_mm(p_mm) / fade_.rim_mm);
            left *= rim_end_ + (1.0 - rim_end_) * inside;
        }
        return left;
    }

    double above_exergue(glm::dvec2 p_mm) const {
        return fade_.exergue_mm > 0.0 ? smooth((p_mm.y - line_mm_) / fade_.exergue_mm) : 1.0;
    }

private:
    float edge_width_px() const { return static_cast<float>(px_per_mm_ * fade_.edge_mm); }

    /// The mean of the rounding over a pixel, which has a share of a pixel's height already: near
    /// the outline it is too steep to be taken at the middle alone.
    double rolled_share(double distance_px, double coverage) const {
        const double width = edge_width_px();
        const double low = (distance_px - 0.5) / width, high = (distance_px + 0.5) / width;
        const double mean = (rolled_area(high) - rolled_area(low)) / (high - low);
        return std::min(1.0, mean / coverage);
    }

    /// The integral of sqrt(1 - (1 - t)^2) up to t; 0 before 0, and 1 a unit beyond 1.
    static double rolled_area(double t) {
        const double u = 1.0 - std::clamp(t, 0.0, 1.0);
        const double area =
            0.5 * (0.5 * std::numbers::pi - u * std::sqrt(1.0 - u * u) - std::asin(u));
        return area + std::max(0.0, t - 1.0);
    }

    FadeSettings fade_;
    const Plane& coverage_;
    const BlankGeometry& blank_;
    double px_per_mm_;
    double line_mm_;
    double rim_end_;
    std::optional<Plane> edge_px_;
};

/// The dome's or dish's share of its height.
double bulge(const BlankGeometry& blank, glm::dvec2 p_mm) {
    if (blank.field_distance_mm(p_mm) >= 0.0) return 0.0;
    const glm::dvec2 t = 2.0 * p_mm / blank.field_size_mm();
    const BlankShape shape = blank.settings().shape;
    const bool oval = shape == BlankShape::round || shape == BlankShape::oval;
    const double share = oval ? 1.0 - t.x * t.x - t.y * t.y : (1.0 - t.x * t.x) * (1.0 - t.y * t.y);
    return std::max(0.0, share);
}

template <typename Work>
void for_points(const ImageGrid& grid, const Work& work) {
    for_row_bands(grid.height, [&](int first, int end) {
        for (int y = first; y < end; ++y)
            for (int x = 0; x < grid.width; ++x) work(x, y, grid.centre_of(x, y));
    });
}

/// Fades the relief. Returns what the exergue leaves of the subject, 1 where it does not reach.
Plane fade(Relief& relief, const ReliefSettings& settings, const Plane& coverage,
           const BlankGeometry& blank, const ImageGrid& grid) {
    const Fades fades(settings, coverage, blank, grid.px_per_mm);
    Plane left(grid.width, grid.height, 1.0F);
    for_points(grid, [&](int x, int y, glm::dvec2 p_mm) {
        if (coverage.at(x, y) <= 0.0F) return;
        left.at(x, y) = static_cast<float>(fades.above_exergue(p_mm));
        relief.height_mm.at(x, y) *= static_cast<float>(fades.at(x, y, p_mm));
    });
    return left;
}

void raise_ground(Relief& relief, double dome_mm, const BlankGeometry& blank,
                  const ImageGrid& grid) {
    if (dome_mm == 0.0) return;
    for_points(grid, [&](int x, int y, glm::dvec2 p_mm) {
        relief.height_mm.at(x, y) += static_cast<float>(dome_mm * bulge(blank, p_mm));
    });
    relief.low_mm += std::min(0.0, dome_mm);
    relief.high_mm += std::max(0.0, dome_mm);
}

/// Height that layers add to the field that the subject leaves, or to all.
class BeyondSubject {
public:
    BeyondSubject(Layers& layers, const ReliefPlanes& planes, const BlankGeometry& blank,
                  const ImageGrid& grid, const Plane& left)
        : layers_(layers),
          everywhere_(grid.width, grid.height, 1.0F),
          field_(drawn_source({"", RegionSource{"field"}}, blank, grid).value) {
        for_pixels(field_, [&](std::size_t i) {
            field_.values[i] *= 1.0F - planes.coverage.values[i] * left.values[i];
        });
    }

    void add(const ReliefLayer& layer, Relief& relief, LayerReport& report) {
        const Plane image = layers_.image(layer, everywhere_, report);
        const Plane share = layers_.share(layer, everywhere_);
        const auto amount = static_cast<float>(layer.amount_mm);
        for_pixels(image, [&](std::size_t i) {
            const float where = layer.place == LayerPlace::field ? field_.values[i] : 1.0F;
            relief.height_mm.values[i] += amount * where * share.values[i] * image.values[i];
        });
        const double most_mm = layer.amount_mm * layer.opacity;
        relief.low_mm += std::min(0.0, most_mm);
        relief.high_mm += std::max(0.0, most_mm);
    }

private:
    Layers& layers_;
    Plane everywhere_;
    Plane field_;
};

void add_beyond_subject(Relief& relief, const ReliefSettings& settings, Layers& layers,
                        const ReliefPlanes& planes, const BlankGeometry& blank,
                        const ImageGrid& grid, const Plane& left) {
    std::optional<BeyondSubject> beyond;
    for (std::size_t i = 0; i < settings.layers.size(); ++i) {
        if (settings.layers[i].place == LayerPlace::subject) continue;
        if (!beyond) beyond.emplace(layers, planes, blank, grid, left);
        beyond->add(settings.layers[i], relief, relief.layers[i]);
    }
}

/// Nothing outside the blank; the rim where it is wanted.
void end_at_blank(Relief& relief, bool with_rim, const BlankGeometry& blank,
                  const ImageGrid& grid) {
    const auto rim_mm = static_cast<float>(blank.rim_height_mm());
    for_points(grid, [&](int x, int y, glm::dvec2 p_mm) {
        float& height = relief.height_mm.at(x, y);
        const auto share = [&](double distance_mm) {
            return static_cast<float>(std::clamp(0.5 - distance_mm * grid.px_per_mm, 0.0, 1.0));
        };
        if (with_rim) {
            const float rim = 1.0F - share(blank.field_distance_mm(p_mm));
            height += rim * (std::max(height, rim_mm) - height);
        }
        height *= share(blank.outline_distance_mm(p_mm));
    });
    if (with_rim) relief.high_mm = std::max(relief.high_mm, blank.rim_height_mm());
}

}  // namespace

Relief finish_relief(const ReliefSettings& settings, const ReliefPlanes& planes,
                     const BlankGeometry& blank, const ImageGrid& grid) {
    Layers layers(settings, planes, {grid.px_per_mm, blank.field_shorter_side_mm()});
    Relief relief = mix_relief(settings, planes, layers);
    const Plane left = fade(relief, settings, planes.coverage, blank, grid);
    raise_ground(relief, settings.dome_mm, blank, grid);
    add_beyond_subject(relief, settings, layers, planes, blank, grid, left);
    end_at_blank(relief, settings.rim, blank, grid);
    return relief;
}

}  // namespace rakelight
