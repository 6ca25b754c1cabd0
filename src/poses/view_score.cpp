#include "poses/view_score.hpp"

#include <algorithm>
#include <cmath>

namespace rakelight {
namespace {

// Directions that a visible surface faces, by the equal-area map of the hemisphere to a disc
// (Lambert 1772). An odd number: what faces the viewer lies in the middle of a cell.
constexpr int normal_cells = 9;
constexpr float sketch_far = 0.4F;
// Fewer recesses than this are rounding; all views of a convex body then have none.
constexpr double least_crevices = 0.02;

std::size_t normal_cell(double x, double y, double z) {
    const double shrink = 1.0 / std::sqrt(1.0 + std::max(z, 0.0));
    const auto cell = [&](double v) {
        const auto i = static_cast<int>((0.5 + 0.5 * v * shrink) * normal_cells);
        return std::clamp(i, 0, normal_cells - 1);
    };
    return static_cast<std::size_t>(cell(y) * normal_cells + cell(x));
}

double entropy_bits(const std::vector<double>& histogram) {
    double all = 0.0, bits = 0.0;
    for (const double amount : histogram) all += amount;
    for (const double amount : histogram) {
        if (amount > 0.0) bits -= amount / all * std::log2(amount / all);
    }
    return bits;
}

double sketch_difference(const Sketch& a, const Sketch& b, bool mirrored) {
    double apart = 0.0, together = 0.0;
    for (int y = 0; y < sketch_side; ++y) {
        for (int x = 0; x < sketch_side; ++x) {
            const float u = a[static_cast<std::size_t>(y * sketch_side + x)];
            const int at = mirrored ? sketch_side - 1 - x : x;
            const float v = b[static_cast<std::size_t>(y * sketch_side + at)];
            apart += std::abs(u - v);
            together += std::max(u, v);
        }
    }
    return together > 0.0 ? apart / together : 0.0;
}

// People choose views from a little above; from memory, Secord et al. 2011 put the best elevation
// at 22.5 degrees. A medal's heads and beasts are seen straight from the side, which is as good
// here. From below one sees what a model stands on.
double outlook(const PoseSettings& pose) {
    const double pitch = glm::radians(pose.pitch_deg), yaw = glm::radians(pose.yaw_deg);
    const double off = pose.pitch_deg > 20.0 ? (pose.pitch_deg - 20.0) / 35.0
                                             : std::min(pose.pitch_deg, 0.0) / 20.0;
    const double front = 0.5 + 0.5 * std::cos(pitch) * std::cos(yaw);
    return 0.65 * std::exp(-off * off) + 0.35 * front;
}

}  // namespace

double difference(const Sketch& a, const Sketch& b) {
    return std::min(sketch_difference(a, b, false), sketch_difference(a, b, true));
}

ViewMeter::ViewMeter(const PreparedScene& prepared, const FacingSurface& surface)
    : prepared_(prepared),
      meter_(prepared.scene, surface, prepared.framing),
      coverage_(prepared.framing.grid.width, prepared.framing.grid.height),
      height_mm_(coverage_.width, coverage_.height),
      normals_(normal_cells * normal_cells) {}

void ViewMeter::add(const PictureRows& rows) {
    meter_.add(rows);
    const RenderedPlanes& planes = rows.planes;
    const auto first = static_cast<std::ptrdiff_t>(rows.first_row) * coverage_.width;
    std::copy(planes.coverage.values.begin(), planes.coverage.values.end(),
              coverage_.values.begin() + first);
    std::copy(planes.height_mm.values.begin(), planes.height_mm.values.end(),
              height_mm_.values.begin() + first);
    for (std::size_t i = 0; i < planes.coverage.values.size(); ++i) {
        const double covered = planes.coverage.values[i];
        if (covered <= 0.0) continue;
        normals_[normal_cell(planes.normal_x.values[i], planes.normal_y.values[i],
                             planes.normal_z.values[i])] += covered;
    }
}

// The coverage's gradient, summed up, is the length of the edge between all and nothing.
double ViewMeter::outline_px() const {
    const auto at = [&](int x, int y) {
        const bool inside = x >= 0 && y >= 0 && x < coverage_.width && y < coverage_.height;
        return inside ? double{coverage_.at(x, y)} : 0.0;
    };
    double length = 0.0;
    for (int y = 0; y < coverage_.height; ++y) {
        for (int x = 0; x < coverage_.width; ++x) {
            length += 0.5 * std::hypot(at(x + 1, y) - at(x - 1, y), at(x, y + 1) - at(x, y - 1));
        }
    }
    return length;
}

Sketch ViewMeter::sketch() const {
    const VisibleSubject seen = meter_.visible();
    const double depth_mm = std::max(seen.far_mm - seen.near_mm, 1e-12);
    std::array<double, sketch_side * sketch_side> sums{};
    std::array<double, sketch_side * sketch_side> counts{};
    for (int y = 0; y < coverage_.height; ++y) {
        for (int x = 0; x < coverage_.width; ++x) {
            const int row = y * sketch_side / coverage_.height;
            const auto cell =
                static_cast<std::size_t>(row * sketch_side + x * sketch_side / coverage_.width);
            const double rise = (seen.far_mm + height_mm_.at(x, y)) / depth_mm;
            sums[cell] += coverage_.at(x, y) * (sketch_far + (1.0 - sketch_far) * rise);
            counts[cell] += 1.0;
        }
    }
    Sketch sketch{};
    for (std::size_t i = 0; i < sketch.size(); ++i) {
        if (counts[i] > 0.0) sketch[i] = static_cast<float>(sums[i] / counts[i]);
    }
    return sketch;
}

ViewFacts ViewMeter::facts() const {
    ViewFacts facts;
    facts.figures = meter_.figures();
    const double mm_per_unit = prepared_.framing.camera.mm_per_unit;
    facts.area_units2 = meter_.visible().area_mm2 / (mm_per_unit * mm_per_unit);
    facts.outline_units = outline_px() / prepared_.framing.grid.px_per_mm / mm_per_unit;
    facts.depth_units = facts.figures.depth_mm / mm_per_unit;
    facts.normal_bits = entropy_bits(normals_);
    facts.sketch = sketch();
    return facts;
}

// The weights are those of the best dozens of the models that were looked at.
double ViewScore::total() const {
    constexpr double weights[] = {2.0, 1.0, 2.0, 2.0, 0.5, 1.0, 0.5, 1.5};
    const double parts[] = {area, fill, seen, form, outline, evenness, crevices, outlook};
    double sum = 0.0, most = 0.0;
    for (std::size_t i = 0; i < std::size(weights); ++i) {
        sum += weights[i] * parts[i];
        most += weights[i];
    }
    return sum / most;
}

std::vector<ViewScore> score_views(const std::vector<ViewFacts>& views,
                                   const std::vector<PoseSettings>& poses) {
    ViewFacts best;
    double fill = 0.0, evenness = 0.0, crevices = least_crevices;
    for (const ViewFacts& view : views) {
        best.area_units2 = std::max(best.area_units2, view.area_units2);
        best.outline_units = std::max(best.outline_units, view.outline_units);
        best.depth_units = std::max(best.depth_units, view.depth_units);
        fill = std::max(fill, view.figures.field_share);
        evenness = std::max(evenness, view.figures.depth_evenness);
        crevices = std::max(crevices, view.figures.crevice_share);
    }
    const auto share = [](double of, double most) { return most > 0.0 ? of / most : 0.0; };
    std::vector<ViewScore> scores;
    for (std::size_t i = 0; i < views.size(); ++i) {
        const PoseFigures& figures = views[i].figures;
        // What is flat uses few codes, and needs none.
        const double uneven = (1.0 - share(figures.depth_evenness, evenness)) *
                              share(views[i].depth_units, best.depth_units);
        const double hidden = std::isnan(figures.hidden_share) ? 0.0 : figures.hidden_share;
        scores.push_back({share(views[i].area_units2, best.area_units2),
                          share(figures.field_share, fill), 1.0 - hidden,
                          views[i].normal_bits / std::log2(double{normal_cells * normal_cells}),
                          share(views[i].outline_units, best.outline_units), 1.0 - uneven,
                          share(figures.crevice_share, crevices), outlook(poses[i])});
    }
    return scores;
}

}  // namespace rakelight
