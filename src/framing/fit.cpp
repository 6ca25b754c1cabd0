#include "framing/fit.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numbers>

#include "error.hpp"
#include "framing/bounded_maximum.hpp"

namespace rakelight {
namespace {

// An overshoot that counts as none, as a share of the subject's size.
constexpr double good_enough = 1e-9;
// A subject that must be smaller than this, as a share of the blank's width, has no room at all.
constexpr double no_room = 1e-6;

double reach_along(const std::vector<glm::dvec2>& points, glm::dvec2 n) {
    double reach = std::numeric_limits<double>::lowest();
    for (const auto& point : points) reach = std::max(reach, glm::dot(point, n));
    return reach;
}

// "All of scale * points + offset lie on the inner side of the area's tangent with normal n", as a
// bound on (scale, offset).
LinearBound tangent(const std::vector<glm::dvec2>& points, const FitArea& area, glm::dvec2 n) {
    const double limit = area.blank->outline_support_mm(n) - area.inset_mm;
    return {{reach_along(points, n), n.x, n.y}, limit};
}

LinearBound level(const std::vector<glm::dvec2>& points, glm::dvec2 n, double limit) {
    return {{reach_along(points, n), n.x, n.y}, limit};
}

// The tangents that bound the programme from the start: eight sides and the two levels.
std::vector<LinearBound> first_bounds(const std::vector<glm::dvec2>& points, const FitArea& area) {
    std::vector<LinearBound> bounds;
    for (int i = 0; i < 8; ++i) {
        const double angle = std::numbers::pi * i / 4.0;
        bounds.push_back(tangent(points, area, {std::cos(angle), std::sin(angle)}));
    }
    bounds.push_back(level(points, {0.0, 1.0}, area.top_mm));
    bounds.push_back(level(points, {0.0, -1.0}, -area.bottom_mm));
    return bounds;
}

struct Overshoot {
    double mm;
    glm::dvec2 place;
};

Overshoot worst_overshoot(const std::vector<glm::dvec2>& points, const FitArea& area,
                          const glm::dvec3& x) {
    Overshoot worst{std::numeric_limits<double>::lowest(), {}};
    for (const auto& point : points) {
        const glm::dvec2 place = x[0] * point + glm::dvec2(x[1], x[2]);
        const double mm = area.blank->outline_distance_mm(place) + area.inset_mm;
        if (mm > worst.mm) worst = {mm, place};
    }
    return worst;
}

// Maximises over the real, curved area: solve with the tangents so far, add the tangent at the
// worst overshoot, until there is none (a cutting-plane method; the area is convex). Empty when no
// scale and offset keep the bounds.
std::optional<glm::dvec3> maximise(const std::vector<glm::dvec2>& points, const FitArea& area,
                                   std::vector<LinearBound>& bounds, glm::dvec3 objective) {
    std::optional<glm::dvec3> best;
    for (int round = 0; round < 60; ++round) {
        const auto next = bounded_maximum(bounds, objective);
        if (!next) break;  // bounds closer together than rounding tells apart: what we have is it
        best = next;
        const double size_mm = (*best)[0];  // the points are of unit size
        const Overshoot worst = worst_overshoot(points, area, *best);
        if (size_mm <= 0.0 || worst.mm < good_enough * size_mm) break;
        bounds.push_back(tangent(points, area, area.blank->outline_normal(worst.place)));
    }
    return best;
}

// The middle of what one coordinate may be while all bounds hold.
double middle_of(const std::vector<glm::dvec2>& points, const FitArea& area,
                 std::vector<LinearBound>& bounds, glm::dvec3 along) {
    const auto high = maximise(points, area, bounds, along);
    const auto low = maximise(points, area, bounds, -along);
    assert(high && low);
    return 0.5 * (glm::dot(along, *high) + glm::dot(along, *low));
}

// The programme works on points of about unit size, whatever the model's unit.
struct UnitPoints {
    glm::dvec2 origin;
    double size = 0.0;
    std::vector<glm::dvec2> points;

    explicit UnitPoints(const std::vector<glm::dvec2>& places) : origin(places.front()) {
        for (const auto& place : places) size = std::max(size, glm::length(place - origin));
        assert(size > 0.0);
        for (const auto& place : places) points.push_back((place - origin) / size);
    }
};

}  // namespace

double largest_scale(const std::vector<glm::dvec2>& points, const FitArea& area) {
    const UnitPoints unit(points);
    auto bounds = first_bounds(unit.points, area);
    const auto best = maximise(unit.points, area, bounds, {1, 0, 0});
    if (!best || (*best)[0] <= no_room * area.blank->size_mm().x) {
        throw Error(ExitCode::bad_scene,
                    "[framing] margin_mm: found a margin that, with rim, hole and exergue, leaves "
                    "no room for a subject; expected some of the field to stay free");
    }
    return (*best)[0] / unit.size;
}

glm::dvec2 centred_offset_mm(const std::vector<glm::dvec2>& points, const FitArea& area,
                             double scale) {
    const UnitPoints unit(points);
    auto bounds = first_bounds(unit.points, area);
    bounds.push_back({{1, 0, 0}, scale * unit.size});
    bounds.push_back({{-1, 0, 0}, -scale * unit.size});
    const double x = middle_of(unit.points, area, bounds, {0, 1, 0});
    const double room_mm = 1e-6 * area.blank->size_mm().x;
    bounds.push_back({{0, 1, 0}, x + room_mm});
    bounds.push_back({{0, -1, 0}, -x + room_mm});
    const double y = middle_of(unit.points, area, bounds, {0, 0, 1});
    return glm::dvec2(x, y) - scale * unit.origin;
}

PlaneFit fit_in_plane(const std::vector<glm::dvec2>& points, const FitArea& area) {
    const double scale = largest_scale(points, area) * (1.0 - fit_slack);
    return {scale, centred_offset_mm(points, area, scale)};
}

}  // namespace rakelight
