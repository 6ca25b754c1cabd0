#include "relief/making_limits.hpp"

#include <algorithm>
#include <cstddef>
#include <numbers>
#include <set>

#include "image/pixels.hpp"
#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr float whole = 1.0F - 1e-4F;     // shares can end a hair below 1
constexpr double degree_slack = 0.01;     // more than rounding makes of a plane's slope
constexpr double height_slack_mm = 1e-5;  // more than rounding makes of a height
constexpr double usual_least_mm = 0.01;

/// The largest of `sign` times the values on and around a pixel, times `sign`.
float around(const Plane& plane, int x, int y, float sign) {
    float most = sign * plane.at(x, y);
    for (int v = std::max(y - 1, 0); v <= std::min(y + 1, plane.height - 1); ++v)
        for (int u = std::max(x - 1, 0); u <= std::min(x + 1, plane.width - 1); ++u)
            most = std::max(most, sign * plane.at(u, v));
    return sign * most;
}

/// What a tool changes of the map, where it counts.
/// @param made  what the tool leaves
/// @param sign  1: it takes away; -1: it adds
Plane changed_mm(const PieceMap& map, const Plane& made, float sign, double least_mm) {
    const Plane& height_mm = map.height_mm;
    const auto least = static_cast<float>(least_mm);
    Plane changed(height_mm.width, height_mm.height);
    for_row_bands(height_mm.height, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < height_mm.width; ++x) {
                const float height = height_mm.at(x, y);
                const float change = sign * (height - made.at(x, y));
                if (!(change > least) || map.piece.at(x, y) < whole) continue;
                if (sign * (height - around(made, x, y, sign)) > least) changed.at(x, y) = change;
            }
        }
    });
    return changed;
}

Plane groove_filled_mm(const MakingSettings& settings, const PieceMap& map, double least_mm) {
    const double groove_mm = *settings.groove_mm;
    const Plane made = settings.cutter == CutterTip::ball
                           ? closed_by_ball(map.height_mm, groove_mm, map.px_per_mm, map.beyond_mm)
                           : closed(map.height_mm, groove_mm * map.px_per_mm, map.beyond_mm);
    return changed_mm(map, made, -1.0F, least_mm);
}

Plane too_tall_mm(const PieceMap& map, double tallest_mm) {
    Plane over(map.height_mm.width, map.height_mm.height);
    for_pixels(over, [&](std::size_t i) {
        const double over_mm = map.height_mm.values[i] - tallest_mm;
        if (over_mm > height_slack_mm && map.piece.values[i] >= whole)
            over.values[i] = static_cast<float>(over_mm);
    });
    return over;
}

/// Slopes within the piece, mm of height for a mm of the picture.
class Slopes {
public:
    explicit Slopes(const PieceMap& map) : map_(map) {}

    float at(int x, int y) const {
        if (!whole_at(x, y)) return 0.0F;
        return std::hypot(along(x, y, 1, 0), along(x, y, 0, 1));
    }

private:
    bool whole_at(int x, int y) const {
        return x >= 0 && y >= 0 && x < map_.piece.width && y < map_.piece.height &&
               map_.piece.at(x, y) >= whole;
    }
    float along(int x, int y, int dx, int dy) const {
        const int after = whole_at(x + dx, y + dy) ? 1 : 0;
        const int before = whole_at(x - dx, y - dy) ? 1 : 0;
        if (after + before == 0) return 0.0F;
        const float rise = map_.height_mm.at(x + after * dx, y + after * dy) -
                           map_.height_mm.at(x - before * dx, y - before * dy);
        return rise * static_cast<float>(map_.px_per_mm) / static_cast<float>(after + before);
    }

    const PieceMap& map_;
};

double degrees(double slope) {
    return std::atan(slope) * 180.0 / std::numbers::pi;
}

/// The area where a plane is above 0.
LimitFigures figures_of(const Plane& beyond, const PieceMap& map) {
    LimitFigures figures;
    double piece_px = 0.0, beyond_px = 0.0;
    for (std::size_t i = 0; i < beyond.values.size(); ++i) {
        const double share = map.piece.values[i];
        piece_px += share;
        if (beyond.values[i] <= 0.0F) continue;
        beyond_px += share;
        figures.worst = std::max(figures.worst, double{beyond.values[i]});
    }
    figures.mm2 = beyond_px / (map.px_per_mm * map.px_per_mm);
    figures.share = piece_px > 0.0 ? beyond_px / piece_px : 0.0;
    return figures;
}

void find_walls(const PieceMap& map, double wall_deg, MakingLimits& limits) {
    const Slopes slopes(map);
    Plane slope(map.height_mm.width, map.height_mm.height);
    for_row_bands(slope.height, [&](int first, int end) {
        for (int y = first; y < end; ++y)
            for (int x = 0; x < slope.width; ++x) slope.at(x, y) = slopes.at(x, y);
    });
    const float steepest = *std::max_element(slope.values.begin(), slope.values.end());
    const double most_deg = std::min(wall_deg + degree_slack, 90.0);
    const double most = std::tan(most_deg * std::numbers::pi / 180.0);
    for (float& v : slope.values) v = v > most ? 1.0F : 0.0F;
    limits.walls = figures_of(slope, map);
    limits.walls->worst = degrees(steepest);
    limits.too_steep = std::move(slope);
}

}  // namespace

double least_loss_mm(const MakingSettings& settings, const std::optional<Steps>& steps) {
    if (settings.least_mm) return *settings.least_mm;
    return steps ? 0.5 * steps->step_mm : usual_least_mm;
}

MakingLimits making_limits(const MakingSettings& settings, const PieceMap& map, double least_mm) {
    MakingLimits limits;
    if (map.height_mm.values.empty()) return limits;
    if (settings.ridge_mm) {
        const Plane made = opened(map.height_mm, *settings.ridge_mm * map.px_per_mm, map.beyond_mm);
        limits.ridge_lost_mm = changed_mm(map, made, 1.0F, least_mm);
        limits.ridges = figures_of(limits.ridge_lost_mm, map);
    }
    if (settings.groove_mm) {
        limits.groove_filled_mm = groove_filled_mm(settings, map, least_mm);
        limits.grooves = figures_of(limits.groove_filled_mm, map);
    }
    if (settings.tallest_mm) {
        limits.too_tall_mm = too_tall_mm(map, *settings.tallest_mm);
        limits.tall = figures_of(limits.too_tall_mm, map);
    }
    if (settings.wall_deg) find_walls(map, *settings.wall_deg, limits);
    return limits;
}

std::optional<Steps> steps_of(const MakingSettings& settings, double low_mm, double high_mm) {
    if (settings.step_mm) return Steps{low_mm, *settings.step_mm};
    if (settings.steps > 1) return Steps{low_mm, (high_mm - low_mm) / (settings.steps - 1)};
    return std::nullopt;
}

StepFigures step_figures(const Steps& steps, const Plane& height_mm, const Plane& share,
                         double px_per_mm) {
    StepFigures figures;
    std::set<std::int64_t> used;
    double px = 0.0, squares = 0.0;
    std::optional<std::int64_t> last;
    for (std::size_t i = 0; i < height_mm.values.size(); ++i) {
        if (share.values[i] <= 0.0F) continue;
        const double beside_mm = steps.beside_mm(height_mm.values[i]);
        figures.largest_mm = std::max(figures.largest_mm, std::abs(beside_mm));
        squares += share.values[i] * beside_mm * beside_mm;
        px += share.values[i];
        const std::int64_t step = steps.nearest(height_mm.values[i]);
        if (step != last) used.insert(step);
        last = step;
    }
    figures.used = static_cast<std::int64_t>(used.size());
    figures.rms_mm = px > 0.0 ? std::sqrt(squares / px) : 0.0;
    figures.mm2 = px / (px_per_mm * px_per_mm);
    return figures;
}

}  // namespace rakelight
