#include "framing/blank_masks.hpp"

#include <algorithm>
#include <cmath>

namespace rakelight {
namespace {

constexpr int lines_per_pixel = 16;

// The regions cut by one horizontal line: x runs from -half to +half of each chord.
struct Chords {
    double blank;
    double field;
    double hole;
    bool in_exergue;
};

// Adds the share of each pixel of row y that [from, to] covers, both in pixels.
void add_span(Plane& plane, int y, double from, double to) {
    from = std::max(from, 0.0);
    to = std::min(to, static_cast<double>(plane.width));
    if (to <= from) return;
    constexpr float weight = 1.0F / lines_per_pixel;
    const int first = static_cast<int>(from);
    const int last = std::min(static_cast<int>(to), plane.width - 1);
    if (first == last) {
        plane.at(first, y) += weight * static_cast<float>(to - from);
        return;
    }
    plane.at(first, y) += weight * static_cast<float>(first + 1 - from);
    for (int x = first + 1; x < last; ++x) plane.at(x, y) += weight;
    plane.at(last, y) += weight * static_cast<float>(to - last);
}

class MaskPainter {
public:
    explicit MaskPainter(const ImageGrid& grid) : grid_(grid) {}

    // Both halves of outer less inner, mirrored about x = 0.
    void add_ring(Plane& plane, int y, double inner_mm, double outer_mm) const {
        if (outer_mm <= inner_mm) return;
        add_span(plane, y, column(-outer_mm), column(-inner_mm));
        add_span(plane, y, column(inner_mm), column(outer_mm));
    }

private:
    double column(double x_mm) const { return (x_mm - grid_.left_mm) * grid_.px_per_mm; }
    const ImageGrid& grid_;
};

Chords cut(const BlankGeometry& blank, double y) {
    return {blank.half_chord_mm(y, 0.0), blank.half_chord_mm(y, blank.settings().rim_mm),
            blank.hole_half_chord_mm(y), y < blank.exergue_line_mm()};
}

}  // namespace

std::vector<BlankMask> blank_masks(const BlankGeometry& blank, const ImageGrid& grid) {
    const Plane empty(grid.width, grid.height);
    std::vector<BlankMask> masks{{"blank", empty}, {"field", empty}, {"rim", empty}};
    if (blank.has_hole()) masks.push_back({"hole", empty});
    const bool with_exergue = blank.settings().exergue_mm > 0.0;
    if (with_exergue) masks.push_back({"exergue", empty});
    const MaskPainter painter(grid);
    for (int y = 0; y < grid.height; ++y) {
        for (int line = 0; line < lines_per_pixel; ++line) {
            const double row = y + (line + 0.5) / lines_per_pixel;
            const Chords at = cut(blank, grid.top_mm - row / grid.px_per_mm);
            painter.add_ring(masks[0].coverage, y, at.hole, at.blank);
            painter.add_ring(masks[1].coverage, y, at.hole, at.field);
            painter.add_ring(masks[2].coverage, y, std::max(at.hole, at.field), at.blank);
            if (blank.has_hole()) painter.add_ring(masks[3].coverage, y, 0.0, at.hole);
            if (with_exergue && at.in_exergue) {
                painter.add_ring(masks.back().coverage, y, at.hole, at.field);
            }
        }
    }
    for (auto& mask : masks) {
        for (float& value : mask.coverage.values) value = std::clamp(value, 0.0F, 1.0F);
    }
    return masks;
}

}  // namespace rakelight
