#include "framing/blank_masks.hpp"

#include <algorithm>
#include <cmath>

#include "image/row_bands.hpp"

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

Plane* region(std::vector<BlankMask>& masks, const char* name) {
    for (auto& mask : masks) {
        if (mask.region == name) return &mask.coverage;
    }
    return nullptr;
}

// @param grid_row  of the whole grid; y: of the masks
void paint_row(const BlankGeometry& blank, const ImageGrid& grid, int grid_row, int y,
               std::vector<BlankMask>& masks) {
    const MaskPainter painter(grid);
    Plane* hole = region(masks, "hole");
    Plane* exergue = region(masks, "exergue");
    for (int line = 0; line < lines_per_pixel; ++line) {
        const double row = grid_row + (line + 0.5) / lines_per_pixel;
        const Chords at = cut(blank, grid.top_mm - row / grid.px_per_mm);
        painter.add_ring(*region(masks, "blank"), y, at.hole, at.blank);
        painter.add_ring(*region(masks, "field"), y, at.hole, at.field);
        painter.add_ring(*region(masks, "rim"), y, std::max(at.hole, at.field), at.blank);
        if (hole != nullptr) painter.add_ring(*hole, y, 0.0, at.hole);
        if (exergue != nullptr && at.in_exergue) painter.add_ring(*exergue, y, at.hole, at.field);
    }
    for (auto& mask : masks) {  // sums of sixteenths can end a hair above 1
        for (int x = 0; x < grid.width; ++x) {
            mask.coverage.at(x, y) = std::clamp(mask.coverage.at(x, y), 0.0F, 1.0F);
        }
    }
}

}  // namespace

std::vector<std::string> blank_regions(const BlankGeometry& blank) {
    std::vector<std::string> regions{"blank", "field", "rim"};
    if (blank.has_hole()) regions.emplace_back("hole");
    if (blank.settings().exergue_mm > 0.0) regions.emplace_back("exergue");
    return regions;
}

std::vector<BlankMask> blank_masks(const BlankGeometry& blank, const ImageGrid& grid, int first_row,
                                   int rows) {
    std::vector<BlankMask> masks;
    for (const auto& name : blank_regions(blank)) masks.push_back({name, Plane(grid.width, rows)});
    for_row_bands(rows, [&](int first, int end) {
        for (int y = first; y < end; ++y) paint_row(blank, grid, first_row + y, y, masks);
    });
    return masks;
}

std::vector<BlankMask> blank_masks(const BlankGeometry& blank, const ImageGrid& grid) {
    return blank_masks(blank, grid, 0, grid.height);
}

}  // namespace rakelight
