// The plane geometry under a fit: hulls, linear programmes, and the largest place in an area.

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "framing/bounded_maximum.hpp"
#include "framing/fit.hpp"
#include "framing/outline_hull.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

constexpr double pi = std::numbers::pi;

double cross(glm::dvec2 a, glm::dvec2 b, glm::dvec2 c) {
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

using Corners = std::set<std::pair<double, double>>;

bool between(glm::dvec2 a, glm::dvec2 b, glm::dvec2 p) {
    return glm::dot(p - a, p - b) <= 0.0;
}

// A side of the hull by its definition: two points such that all others lie to its left, or on it
// between them. Whole numbers, so that it is exact.
bool is_side(const std::vector<glm::dvec2>& points, glm::dvec2 a, glm::dvec2 b) {
    return std::all_of(points.begin(), points.end(), [&](glm::dvec2 p) {
        const double side = cross(a, b, p);
        return side > 0.0 || (side == 0.0 && between(a, b, p));
    });
}

Corners corners_by_definition(const std::vector<glm::dvec2>& points) {
    Corners corners;
    for (const auto& a : points) {
        for (const auto& b : points) {
            if (a == b || !is_side(points, a, b)) continue;
            corners.insert({a.x, a.y});
            corners.insert({b.x, b.y});
        }
    }
    if (corners.empty()) corners.insert({points[0].x, points[0].y});  // all are one point
    return corners;
}

void check_hull(const std::vector<glm::dvec2>& points) {
    const auto hull = convex_hull(points);
    Corners corners;
    for (const auto& corner : hull) {
        REQUIRE(corner.source < points.size());
        CHECK(points[corner.source] == corner.place);
        corners.insert({corner.place.x, corner.place.y});
    }
    CHECK(corners.size() == hull.size());  // none twice
    CHECK(corners == corners_by_definition(points));
    for (std::size_t i = 0; hull.size() > 2 && i < hull.size(); ++i) {
        const auto next = [&](std::size_t k) { return hull[(i + k) % hull.size()].place; };
        CHECK(cross(next(0), next(1), next(2)) > 0.0);  // counter-clockwise, nothing collinear
    }
}

}  // namespace

TEST_CASE("hulls of few points on a grid, by definition") {
    Random random(11);
    for (int round = 0; round < 2000; ++round) {
        const int count = random.whole(1, 14);
        const int size = random.whole(0, 6);  // small grids: many twins and lines
        std::vector<glm::dvec2> points;
        points.reserve(count);
        for (int i = 0; i < count; ++i) {
            points.emplace_back(random.whole(-size, size), random.whole(-size, size));
        }
        check_hull(points);
    }
}

TEST_CASE("hulls of points that are hardly an area") {
    check_hull({{3, -7}});
    check_hull({{3, -7}, {3, -7}, {3, -7}});
    check_hull({{0, 0}, {1, 2}});
    check_hull({{4, 4}, {0, 0}, {1, 1}, {4, 4}, {2, 2}, {0, 0}});
    check_hull({{0, 5}, {0, -5}, {0, 1}, {0, 5}});
    check_hull({{-3, 2}, {9, 2}, {0, 2}});
    check_hull({{0, 0}, {1, 0}, {1, 1}, {0, 1}, {0.5, 0}, {1, 0.5}, {0.5, 0.5}});
    std::vector<glm::dvec2> line;
    line.reserve(51);
    for (int i = 0; i < 50; ++i) line.emplace_back(7 * ((i * 13) % 50), -3 * ((i * 13) % 50));
    check_hull(line);
    line.emplace_back(175, -74);  // one point beside it
    check_hull(line);
}

TEST_CASE("hulls of many points: the sieve loses none") {
    Random random(12);
    for (const double far : {0.0, 1e6}) {
        std::vector<glm::dvec2> points;
        points.reserve(20000);
        for (int i = 0; i < 20000; ++i) {
            points.push_back(std::round(1e6 * random.between(0, 1)) * random.direction() + far);
        }
        const auto hull = convex_hull(points);
        REQUIRE(hull.size() > 10);
        for (std::size_t i = 0; i < hull.size(); ++i) {
            const glm::dvec2 a = hull[i].place;
            const glm::dvec2 b = hull[(i + 1) % hull.size()].place;
            double lowest = std::numeric_limits<double>::max();
            for (const auto& p : points) lowest = std::min(lowest, cross(a, b, p));
            CHECK(lowest > -1e-3);  // areas of 1e12 are computed to 1e-4
        }
    }
    // Where every point is a corner all must come through: whole points of a parabola.
    std::vector<glm::dvec2> parabola;
    parabola.reserve(1001);
    for (int i = -500; i <= 500; ++i) parabola.emplace_back(i, i * i);
    CHECK(convex_hull(parabola).size() == parabola.size());
}

namespace {

// Linear programming duality: a point is the best of all exactly when it keeps all bounds and the
// objective is a sum, with weights of 0 or more, of the normals of bounds that it lies on (Farkas).
bool proves_best(const std::vector<LinearBound>& bounds, glm::dvec3 objective, glm::dvec3 x) {
    std::vector<glm::dvec3> touched;
    for (const auto& bound : bounds) {
        const double over = glm::dot(bound.coefficients, x) - bound.limit;
        if (over > 1e-7) return false;
        if (over > -1e-7) touched.push_back(bound.coefficients);
    }
    for (std::size_t i = 0; i < touched.size(); ++i) {
        for (std::size_t j = i + 1; j < touched.size(); ++j) {
            for (std::size_t k = j + 1; k < touched.size(); ++k) {
                const glm::dmat3 normals(touched[i], touched[j], touched[k]);
                if (std::abs(glm::determinant(normals)) < 1e-9) continue;
                const glm::dvec3 weights = glm::inverse(normals) * objective;
                if (std::min({weights.x, weights.y, weights.z}) > -1e-6) return true;
            }
        }
    }
    return false;
}

glm::dvec3 in_cube(Random& random, double half) {
    return {random.between(-half, half), random.between(-half, half), random.between(-half, half)};
}

std::vector<LinearBound> cube_of(double half) {
    std::vector<LinearBound> bounds;
    for (int axis = 0; axis < 3; ++axis) {
        for (const double sign : {1.0, -1.0}) {
            glm::dvec3 n(0.0);
            n[axis] = sign;
            bounds.push_back({n, half});
        }
    }
    return bounds;
}

bool keeps(const std::vector<LinearBound>& bounds, glm::dvec3 x) {
    return std::all_of(bounds.begin(), bounds.end(), [&](const LinearBound& bound) {
        return glm::dot(bound.coefficients, x) <= bound.limit;
    });
}

}  // namespace

TEST_CASE("linear programmes: the answer is proved by duality and by trial") {
    Random random(13);
    int solved = 0;
    int empty = 0;
    for (int round = 0; round < 400; ++round) {
        auto bounds = cube_of(10);
        const int more = random.whole(0, 14);
        for (int i = 0; i < more; ++i) {
            bounds.push_back({in_cube(random, 1), random.between(-3, 5)});
        }
        const glm::dvec3 objective = in_cube(random, 1);
        const auto best = bounded_maximum(bounds, objective);
        double tried = std::numeric_limits<double>::lowest();
        for (int i = 0; i < 500; ++i) {
            const glm::dvec3 x = in_cube(random, 10);
            if (keeps(bounds, x)) tried = std::max(tried, glm::dot(objective, x));
        }
        if (!best) {
            CHECK(tried == std::numeric_limits<double>::lowest());
            ++empty;
            continue;
        }
        CHECK(proves_best(bounds, objective, *best));
        CHECK(glm::dot(objective, *best) >= tried);
        ++solved;
    }
    CHECK(solved > 200);  // both kinds came up
    CHECK(empty > 20);
}

TEST_CASE("linear programmes with known answers") {
    CHECK(glm::length(*bounded_maximum(cube_of(2), {1, 2, -3}) - glm::dvec3(2, 2, -2)) < 1e-14);
    auto bounds = cube_of(1);
    bounds.push_back({{1, 1, 1}, 1.0});  // x + y + z <= 1: the best of x + y + z is 1
    CHECK(glm::dot(glm::dvec3(1), *bounded_maximum(bounds, {1, 1, 1})) == doctest::Approx(1));
    bounds.push_back({{-1, -1, -1}, -1.0});  // and >= 1: no thickness, still an answer
    CHECK(glm::dot(glm::dvec3(1), *bounded_maximum(bounds, {1, 0, 0})) == doctest::Approx(1));
    bounds.push_back({{-1, -1, -1}, -1.1});  // and >= 1.1: nothing
    CHECK_FALSE(bounded_maximum(bounds, {1, 0, 0}).has_value());
    // Twice the same bound, and one that cuts nothing off, change nothing.
    auto twice = cube_of(2);
    twice.insert(twice.end(), {twice[0], twice[3], {{1, 1, 0}, 100.0}});
    CHECK(*bounded_maximum(twice, {1, 2, -3}) == *bounded_maximum(cube_of(2), {1, 2, -3}));
    CHECK_FALSE(bounded_maximum({}, {1, 0, 0}).has_value());
}

namespace {

struct Place {
    const char* name;
    BlankSettings settings;
    double inset_mm;
    double bottom_mm;
    double top_mm;
};

const std::vector<Place>& areas() {
    static const std::vector<Place> all{
        {"disc", round_blank(38), 2, -17, 17},
        {"disc, cut below and above", round_blank(38), 2, -10.8, 12},
        {"oval", oval(50, 30), 2, -13, 13},
        {"flat oval, nearly all inset", oval(60, 20), 7, -3, 3},  // its end is pointed: 7 > b^2/a
        {"upright oval, inset", oval(20, 60), 5, -25, 25},
        {"sharp rectangle", rectangle(60, 40, 0), 3, -17, 17},
        {"rounded rectangle", rectangle(60, 40, 8), 3, -17, 17},
        {"rounded rectangle, corners used up", rectangle(60, 40, 2), 3, -17, 17},
        {"tag", tag(30, 50), 2, -23, 23},
        {"lying tag, cut", tag(80, 30), 1, -9, 14},
        {"tiny", round_blank(0.5), 0.05, -0.2, 0.2},
        {"huge", tag(2000, 900), 30, -420, 420},
    };
    return all;
}

double outside(const FitArea& area, glm::dvec2 p) {
    return std::max({area.blank->outline_distance_mm(p) + area.inset_mm, p.y - area.top_mm,
                     area.bottom_mm - p.y});
}

double outside(const FitArea& area, const std::vector<glm::dvec2>& points, double scale,
               glm::dvec2 offset) {
    double most = std::numeric_limits<double>::lowest();
    for (const auto& p : points) most = std::max(most, outside(area, scale * p + offset));
    return most;
}

// How many of the area's edges a fit touches, each point counting once and each of the two levels
// once for each point.
int touching(const FitArea& area, const std::vector<glm::dvec2>& points, const PlaneFit& fit,
             double within_mm) {
    int count = 0;
    for (const auto& point : points) {
        const glm::dvec2 p = fit.scale * point + fit.offset_mm;
        count += area.blank->outline_distance_mm(p) + area.inset_mm > -within_mm ? 1 : 0;
        count += p.y - area.top_mm > -within_mm ? 1 : 0;
        count += area.bottom_mm - p.y > -within_mm ? 1 : 0;
    }
    return count;
}

std::vector<glm::dvec2> cloud(Random& random, double unit) {
    const int count = random.whole(2, 30);
    const glm::dvec2 stretch(random.between(0.02, 1), random.between(0.02, 1));
    const double turn = random.between(0, pi);
    const glm::dvec2 away = random.in_square(20);
    std::vector<glm::dvec2> points;
    for (int i = 0; i < count; ++i) {
        const glm::dvec2 p = stretch * random.in_square(1);
        points.push_back(unit * (away + glm::dvec2(std::cos(turn) * p.x - std::sin(turn) * p.y,
                                                   std::sin(turn) * p.x + std::cos(turn) * p.y)));
    }
    return points;
}

// No place near or far takes the points at a ten-thousandth more.
bool none_larger(const FitArea& area, const std::vector<glm::dvec2>& points, const PlaneFit& fit,
                 Random& random, int tries) {
    const double size = area.blank->size_mm().x;
    const double scale = fit.scale * (1 + 1e-4);
    glm::dvec2 middle(0.0);
    for (const auto& p : points) middle += p / static_cast<double>(points.size());
    const glm::dvec2 grown = fit.offset_mm - 1e-4 * fit.scale * middle;
    for (int i = 0; i < tries; ++i) {
        const double reach = size * std::pow(10.0, random.between(-6, 0));
        if (outside(area, points, scale, grown + random.in_square(reach)) <= 0.0) return false;
    }
    return true;
}

}  // namespace

TEST_CASE("random clouds lie inside, touch, and could not be larger") {
    Random random(14);
    for (const auto& place : areas()) {
        CAPTURE(place.name);
        const BlankGeometry blank(place.settings);
        const FitArea area{&blank, place.inset_mm, place.bottom_mm, place.top_mm};
        const double size = std::max(blank.size_mm().x, blank.size_mm().y) / 38.0;
        for (int round = 0; round < 12; ++round) {
            CAPTURE(round);
            const auto points = cloud(random, std::pow(10.0, random.whole(-6, 6)));
            std::vector<glm::dvec2> corners;
            for (const auto& corner : convex_hull(points)) corners.push_back(corner.place);
            const PlaneFit fit = fit_in_plane(corners, area);
            // Inside to a nanometre on a medal of 38 mm; a fit may leave 1e-7 of its size.
            CHECK(outside(area, points, fit.scale, fit.offset_mm) < 1e-6 * size);
            CHECK(touching(area, points, fit, 1e-5 * size) >= 2);
            CHECK(none_larger(area, points, fit, random, 2000));
        }
    }
}

TEST_CASE("the guard of the check above: smaller or shifted fits do not pass it") {
    Random random(15);
    const BlankGeometry blank(round_blank(38));
    const FitArea area{&blank, 2, -17, 17};
    const auto points = cloud(random, 1.0);
    PlaneFit fit = fit_in_plane(points, area);
    fit.scale *= 1 - 3e-4;
    CHECK_FALSE(none_larger(area, points, fit, random, 2000));
    fit = fit_in_plane(points, area);
    fit.offset_mm.x += 1e-4;
    CHECK(outside(area, points, fit.scale, fit.offset_mm) > 1e-6);
}

TEST_CASE("smallest circles in closed form") {
    // A largest fit in a disc is a smallest enclosing circle: for an acute triangle its
    // circumcircle (R = a b c / (4 area)), else the circle over the longest side.
    const BlankGeometry blank(round_blank(40));
    const FitArea area{&blank, 1, -19, 19};
    struct Known {
        std::vector<glm::dvec2> points;
        double radius;
        glm::dvec2 middle;
        double off_mm;  // how far from the middle the fit may lie
    };
    // Exact to a millionth of the blank's width, as promised. Where the third point lies just on
    // the circle over the other two, it takes half of the lens of room that these leave across
    // them: half of R sqrt(2 * fit_slack).
    const double exact = 3e-6 * 40;
    const double half_lens = 0.51 * 19 * std::sqrt(2 * fit_slack);
    const double s = std::sqrt(3.0);
    for (const auto& known : {Known{{{-1, 0}, {1, 0}, {0, s}}, 2 / s, {0, 1 / s}, exact},
                              Known{{{0, 0}, {3, 0}, {0, 4}}, 2.5, {1.5, 2}, half_lens},
                              Known{{{0, 0}, {10, 0}, {4, 1}}, 5, {5, 0}, exact},
                              Known{{{-7, 3}, {1, 9}}, 5, {-3, 6}, exact},
                              // 13-14-15: area 84, R = 13 * 14 * 15 / 336
                              Known{{{0, 0}, {14, 0}, {5, 12}}, 8.125, {7, 4.125}, exact}}) {
        const PlaneFit fit = fit_in_plane(known.points, area);
        CHECK(std::abs(fit.scale * known.radius - 19) < 19 * 2e-7);  // 1e-7 is left free
        CHECK(glm::length(fit.scale * known.middle + fit.offset_mm) < known.off_mm);
    }
}

TEST_CASE("the pointed ends of an oval's inside") {
    // 7 mm inside an oval of 60 x 20 mm, more than its ends' radius of curvature b^2/a = 3.3 mm,
    // the outline has a point where two sides meet: on the axis the distance b sqrt(1 - x^2 / (a^2
    // - b^2)) is 7 at x^2 = 800 (1 - 0.49). A needle along the axis ends there, not at 30 - 7.
    const double tip = std::sqrt(800 * (1 - 0.49));
    const BlankGeometry lying(oval(60, 20));
    const BlankGeometry upright(oval(20, 60));
    const PlaneFit fit =
        fit_in_plane({{-1, 0}, {0, -0.001}, {1, 0}, {0, 0.001}}, {&lying, 7, -3, 3});
    CHECK(std::abs(fit.scale / tip - 1) < 2e-7);
    CHECK(std::abs(fit_in_plane({{0, 1}, {0, -1}}, {&upright, 7, -23, 23}).scale / tip - 1) < 2e-7);
}

TEST_CASE("where there is room to move, the middle of it") {
    const BlankGeometry blank(rectangle(60, 40, 0));
    const std::vector<glm::dvec2> square{{4, 4}, {6, 4}, {6, 6}, {4, 6}};
    const PlaneFit fit = fit_in_plane(square, {&blank, 2, -18, 12});  // 56 x 30, about y = -3
    CHECK(std::abs(fit.scale - 15) < 15 * 2e-7);
    const glm::dvec2 middle = fit.scale * glm::dvec2(5, 5) + fit.offset_mm;
    CHECK(glm::length(middle - glm::dvec2(0, -3)) < 3e-6 * 60);
    const PlaneFit flat =
        fit_in_plane({{0, 0}, {1, 0}}, {&blank, 2, -18, 12});  // a line lies level
    CHECK(std::abs(flat.scale - 56) < 56 * 2e-7);
    CHECK(glm::length(0.5 * glm::dvec2(flat.scale, 0) + flat.offset_mm - glm::dvec2(0, -3)) <
          3e-6 * 60);
    const glm::dvec2 offset = centred_offset_mm(square, {&blank, 2, -18, 12}, 3.0);  // much room
    CHECK(glm::length(offset + 15.0 - glm::dvec2(0, -3)) < 3e-6 * 60);
}

TEST_CASE("an area without room") {
    const BlankGeometry blank(round_blank(38));
    const std::vector<glm::dvec2> square{{0, 0}, {1, 0}, {1, 1}, {0, 1}};
    for (const FitArea& area :
         {FitArea{&blank, 0, 5, 4}, FitArea{&blank, 0, 5, 5}, FitArea{&blank, 19, -19, 19},
          FitArea{&blank, 25, -19, 19}, FitArea{&blank, 0, 19, 30}, FitArea{&blank, 2, 17.5, 30}}) {
        const Error error = error_of([&] { fit_in_plane(square, area); });
        CHECK(error.code() == ExitCode::bad_scene);
        CHECK(contains(error.what(), "leaves no room for a subject"));
    }
}
