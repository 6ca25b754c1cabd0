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

constexpr double good_enough_mm = 1e-8;

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

glm::dvec2 outward(const BlankGeometry& blank, glm::dvec2 p) {
    constexpr double h = 1e-5;
    const auto at = [&](double x, double y) {
        return blank.outline_distance_mm({p.x + x, p.y + y});
    };
    return glm::normalize(glm::dvec2(at(h, 0) - at(-h, 0), at(0, h) - at(0, -h)));
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
// worst overshoot, until there is none (a cutting-plane method; the area is convex).
glm::dvec3 maximise(const std::vector<glm::dvec2>& points, const FitArea& area,
                    std::vector<LinearBound>& bounds, glm::dvec3 objective) {
    std::optional<glm::dvec3> best;
    for (int round = 0; round < 60; ++round) {
        const auto next = bounded_maximum(bounds, objective);
        if (!next) break;  // bounds closer together than rounding tells apart: what we have is it
        best = next;
        const Overshoot worst = worst_overshoot(points, area, *best);
        if (worst.mm < good_enough_mm) break;
        bounds.push_back(tangent(points, area, outward(*area.blank, worst.place)));
    }
    if (!best || (*best)[0] <= 0.0) {
        throw Error(ExitCode::bad_scene,
                    "[framing] margin_mm: found a margin that, with rim, hole and exergue, leaves "
                    "no room for a subject; expected some of the field to stay free");
    }
    return *best;
}

// The middle of what one coordinate may be while all bounds hold.
double middle_of(const std::vector<glm::dvec2>& points, const FitArea& area,
                 std::vector<LinearBound>& bounds, glm::dvec3 along) {
    const double high = glm::dot(along, maximise(points, area, bounds, along));
    const double low = glm::dot(along, maximise(points, area, bounds, -along));
    return 0.5 * (high + low);
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

double FitArea::distance_mm(glm::dvec2 p) const {
    return std::max({blank->outline_distance_mm(p) + inset_mm, p.y - top_mm, bottom_mm - p.y});
}

double largest_scale(const std::vector<glm::dvec2>& points, const FitArea& area) {
    const UnitPoints unit(points);
    auto bounds = first_bounds(unit.points, area);
    return maximise(unit.points, area, bounds, {1, 0, 0})[0] / unit.size;
}

PlaneFit fit_in_plane(const std::vector<glm::dvec2>& points, const FitArea& area) {
    const UnitPoints unit(points);
    auto bounds = first_bounds(unit.points, area);
    const double largest = maximise(unit.points, area, bounds, {1, 0, 0})[0];
    // A hair smaller, so that the room to move is more than rounding.
    const double scale = largest * (1.0 - 1e-7);
    bounds.push_back({{-1, 0, 0}, -scale});
    const double x = middle_of(unit.points, area, bounds, {0, 1, 0});
    const double room_mm = 1e-6 * area.blank->size_mm().x;
    bounds.push_back({{0, 1, 0}, x + room_mm});
    bounds.push_back({{0, -1, 0}, -x + room_mm});
    const double y = middle_of(unit.points, area, bounds, {0, 0, 1});
    return {scale / unit.size, glm::dvec2(x, y) - scale / unit.size * unit.origin};
}

}  // namespace rakelight
