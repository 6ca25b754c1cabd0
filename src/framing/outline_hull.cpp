#include "framing/outline_hull.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

double cross(glm::dvec2 a, glm::dvec2 b) {
    return a.x * b.y - a.y * b.x;
}

constexpr int sieve_sides = 16;

// The polygon of the extreme points in sixteen directions. What lies strictly inside it cannot be a
// corner of the hull: of a million points, some hundreds are left to sort (Akl and Toussaint 1978).
std::array<glm::dvec2, sieve_sides> extremes(const std::vector<glm::dvec2>& places) {
    std::array<glm::dvec2, sieve_sides> found;
    const auto seek = [&](int side) {
        const double angle = 2.0 * std::numbers::pi * side / sieve_sides;
        const glm::dvec2 along(std::cos(angle), std::sin(angle));
        double high = std::numeric_limits<double>::lowest();
        double low = std::numeric_limits<double>::max();
        for (const auto& place : places) {
            const double value = place.x * along.x + place.y * along.y;
            if (value > high) {
                high = value;
                found[side] = place;
            }
            if (value < low) {
                low = value;
                found[side + sieve_sides / 2] = place;
            }
        }
    };
    for_row_bands(sieve_sides / 2, 1, [&](int side, int) { seek(side); });
    return found;
}

bool inside(const std::array<glm::dvec2, sieve_sides>& polygon, glm::dvec2 p) {
    bool has_edges = false;  // none: all points are one
    for (int i = 0; i < sieve_sides; ++i) {
        const glm::dvec2 a = polygon[i];
        const glm::dvec2 edge = polygon[(i + 1) % sieve_sides] - a;
        if (edge == glm::dvec2(0.0)) continue;
        if (cross(edge, p - a) <= 0.0) return false;
        has_edges = true;
    }
    return has_edges;
}

// A circle inside the polygon: most points lie in it, and a distance is quicker than all edges.
struct Circle {
    glm::dvec2 middle{0.0};
    double radius = 0.0;
};

Circle inner_circle(const std::array<glm::dvec2, sieve_sides>& polygon) {
    Circle circle;
    for (const auto& corner : polygon) circle.middle += corner / double{sieve_sides};
    double radius = std::numeric_limits<double>::max();
    bool has_edges = false;
    for (int i = 0; i < sieve_sides; ++i) {
        const glm::dvec2 edge = polygon[(i + 1) % sieve_sides] - polygon[i];
        if (edge == glm::dvec2(0.0)) continue;
        has_edges = true;
        radius = std::min(radius, cross(edge, circle.middle - polygon[i]) / glm::length(edge));
    }
    if (has_edges) circle.radius = radius * (1.0 - 1e-9);  // rounding must not reach beyond
    return circle;
}

std::vector<HullCorner> sieve(const std::vector<glm::dvec2>& places) {
    const auto polygon = extremes(places);
    const Circle circle = inner_circle(polygon);
    const double square = circle.radius > 0.0 ? circle.radius * circle.radius : -1.0;
    std::vector<HullCorner> kept;
    for (std::size_t i = 0; i < places.size(); ++i) {
        const glm::dvec2 from_middle = places[i] - circle.middle;
        if (glm::dot(from_middle, from_middle) < square) continue;
        if (!inside(polygon, places[i])) kept.push_back({places[i], i});
    }
    return kept;
}

// Appends one chain of the hull; `floor` is how many corners belong to the chain before.
void add_to_chain(std::vector<HullCorner>& hull, std::size_t floor, const HullCorner& next) {
    while (hull.size() > floor + 1) {
        const glm::dvec2 last = hull[hull.size() - 1].place;
        const glm::dvec2 before = hull[hull.size() - 2].place;
        if (cross(last - before, next.place - before) > 0.0) break;
        hull.pop_back();
    }
    hull.push_back(next);
}

}  // namespace

std::vector<HullCorner> convex_hull(const std::vector<glm::dvec2>& places) {
    auto points = sieve(places);
    const auto before = [](const HullCorner& a, const HullCorner& b) {
        return a.place.x != b.place.x   ? a.place.x < b.place.x
               : a.place.y != b.place.y ? a.place.y < b.place.y
                                        : a.source < b.source;
    };
    std::sort(points.begin(), points.end(), before);
    const auto same = [](const HullCorner& a, const HullCorner& b) { return a.place == b.place; };
    points.erase(std::unique(points.begin(), points.end(), same), points.end());
    if (points.size() < 3) return points;
    std::vector<HullCorner> hull;
    for (const auto& point : points) add_to_chain(hull, 0, point);
    const std::size_t lower = hull.size() - 1;
    for (std::size_t i = points.size() - 1; i-- > 0;) add_to_chain(hull, lower, points[i]);
    hull.pop_back();  // the first corner once more
    return hull;
}

}  // namespace rakelight
