#include "struck/cut_profile.hpp"

#include <algorithm>
#include <cmath>

#include "struck/blank_surface.hpp"

namespace rakelight {
namespace {

constexpr int most_steps = 4000;

double height_at(const Plane& height_mm, const ImageGrid& grid, glm::dvec2 p_mm) {
    const double x = (p_mm.x - grid.left_mm) * grid.px_per_mm - 0.5;
    const double y = (grid.top_mm - p_mm.y) * grid.px_per_mm - 0.5;
    if (x < -0.5 || y < -0.5 || x > grid.width - 0.5 || y > grid.height - 0.5) return 0.0;
    const auto pixel = [&](double column, double row) -> double {
        return height_mm.at(std::clamp(static_cast<int>(column), 0, grid.width - 1),
                            std::clamp(static_cast<int>(row), 0, grid.height - 1));
    };
    const double left = std::floor(x), top = std::floor(y);
    const double u = x - left, v = y - top;
    return (1.0 - v) * ((1.0 - u) * pixel(left, top) + u * pixel(left + 1.0, top)) +
           v * ((1.0 - u) * pixel(left, top + 1.0) + u * pixel(left + 1.0, top + 1.0));
}

bool on_piece(const BlankGeometry& blank, glm::dvec2 p_mm) {
    constexpr double rounding_mm = 1e-9;  // a cut may end on the outline itself
    if (blank.outline_distance_mm(p_mm) > rounding_mm) return false;
    return !blank.has_hole() ||
           glm::length(p_mm - blank.hole_centre_mm()) >= 0.5 * blank.settings().hole->diameter_mm;
}

}  // namespace

std::vector<CutPiece> cut_profile(const Plane& height_mm, const BlankGeometry& blank,
                                  const ImageGrid& grid, const CutLine& line) {
    const glm::dvec2 from(line.from_mm[0], line.from_mm[1]), to(line.to_mm[0], line.to_mm[1]);
    const double length_mm = glm::length(to - from);
    const int steps =
        static_cast<int>(std::clamp(std::ceil(length_mm * grid.px_per_mm), 1.0, 1.0 * most_steps));
    const BlankSurface surface(blank.settings());
    std::vector<CutPiece> pieces;
    bool before = false;
    for (int i = 0; i <= steps; ++i) {
        const double share = static_cast<double>(i) / steps;
        const glm::dvec2 p_mm = from + share * (to - from);
        const bool here = on_piece(blank, p_mm);
        if (here && !before) pieces.emplace_back();
        before = here;
        if (!here) continue;
        const double relief_mm = height_at(height_mm, grid, p_mm);
        const double rim_mm = surface.at(p_mm).height_mm;  // none is 0, above a dish too
        pieces.back().push_back(
            {share * length_mm, rim_mm > 0.0 ? std::max(rim_mm, relief_mm) : relief_mm});
    }
    return pieces;
}

}  // namespace rakelight
