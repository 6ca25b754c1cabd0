// The blank's outlines against nearest points found by other means, and the pixels of its pictures.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

#include "framing/blank.hpp"
#include "test_framing_support.hpp"

using namespace rakelight;
using namespace framing_test;

namespace {

constexpr double pi = std::numbers::pi;

double sign_of(bool inside) {
    return inside ? -1.0 : 1.0;
}

double to_segment(glm::dvec2 p, glm::dvec2 a, glm::dvec2 b) {
    const glm::dvec2 along = b - a;
    const double length2 = glm::dot(along, along);
    if (length2 == 0.0) return glm::length(p - a);
    const double t = std::clamp(glm::dot(p - a, along) / length2, 0.0, 1.0);
    return glm::length(p - a - t * along);
}

// A rounded rectangle as what it is drawn from: four sides and four quarter circles. The distance
// is to the nearest of these, by school geometry. A tag is one whose radius is half of the shorter
// side, a disc one whose radius is half of both.
class DrawnOutline {
public:
    DrawnOutline(glm::dvec2 half, double radius)
        : half_(half), radius_(radius), core_(half - radius) {}

    double distance(glm::dvec2 p) const {
        const glm::dvec2 q = glm::abs(p);
        double nearest = std::min(to_segment(q, {-core_.x, half_.y}, {core_.x, half_.y}),
                                  to_segment(q, {half_.x, -core_.y}, {half_.x, core_.y}));
        const glm::dvec2 from_centre = q - core_;
        if (from_centre.x >= 0.0 && from_centre.y >= 0.0) {
            nearest = std::min(nearest, std::abs(glm::length(from_centre) - radius_));
        }
        return sign_of(contains(q)) * nearest;
    }

    double reach(glm::dvec2 n) const {  // the hull of four discs
        double most = std::numeric_limits<double>::lowest();
        for (const double x : {-core_.x, core_.x}) {
            for (const double y : {-core_.y, core_.y}) {
                most = std::max(most, x * n.x + y * n.y + radius_);
            }
        }
        return most;
    }

private:
    bool contains(glm::dvec2 q) const {
        if (q.x > half_.x || q.y > half_.y) return false;
        return q.x <= core_.x || q.y <= core_.y || glm::length(q - core_) <= radius_;
    }
    glm::dvec2 half_;
    double radius_;
    glm::dvec2 core_;
};

struct Drawn {
    std::string name;
    BlankSettings settings;
    double radius_mm;
};

std::vector<Drawn> drawn_blanks() {
    return {{"disc", round_blank(38), 19},
            {"upright tag", tag(30, 50), 15},
            {"lying tag", tag(80, 12), 6},
            {"round tag", tag(20, 20), 10},
            {"sharp", rectangle(60, 40, 0), 0},
            {"rounded", rectangle(60, 40, 5), 5},
            {"upright", rectangle(25, 70, 12.5), 12.5}};
}

// Points of all kinds: anywhere, on the axes, in the middle, near the edge.
std::vector<glm::dvec2> probes(glm::dvec2 half, int count, std::uint64_t seed) {
    Random random(seed);
    std::vector<glm::dvec2> points{{0, 0}, {half.x, 0}, {0, half.y}, {-half.x, -half.y}};
    for (int i = 0; i < count; ++i) {
        const glm::dvec2 p(random.between(-2, 2) * half.x, random.between(-2, 2) * half.y);
        points.push_back(p);
        points.emplace_back(p.x, 0.0);
        points.emplace_back(0.0, p.y);
        const glm::dvec2 n = random.direction();
        points.push_back(half * n * random.between(0.99, 1.01));
    }
    return points;
}

// An ellipse by 200,000 points of it; the best of them refined by thirds within its neighbours, so
// that what is left is rounding.
class SampledEllipse {
public:
    static constexpr int samples = 200000;

    explicit SampledEllipse(glm::dvec2 half) : half_(half) {
        for (int i = 0; i < samples; ++i) curve_.push_back(at(2.0 * pi * i / samples));
    }

    glm::dvec2 at(double t) const { return {half_.x * std::cos(t), half_.y * std::sin(t)}; }

    double distance(glm::dvec2 p) const {
        const auto squared = [&](int i) {
            const glm::dvec2 d = p - curve_[static_cast<std::size_t>((i + samples) % samples)];
            return glm::dot(d, d);
        };
        double nearest = std::numeric_limits<double>::max();
        for (int i = 0; i < samples; ++i) {
            const double here = squared(i);
            if (here <= squared(i - 1) && here <= squared(i + 1)) {
                nearest = std::min(nearest, refined(p, i));
            }
        }
        const double x = p.x / half_.x;
        const double y = p.y / half_.y;
        return sign_of(x * x + y * y < 1.0) * nearest;
    }

    double reach(glm::dvec2 n) const {
        double most = 0.0;
        for (const auto& p : curve_) most = std::max(most, glm::dot(p, n));
        return most;
    }

private:
    double refined(glm::dvec2 p, int i) const {
        double low = 2.0 * pi * (i - 1) / samples;
        double high = 2.0 * pi * (i + 1) / samples;
        for (int k = 0; k < 80; ++k) {
            const double a = low + (high - low) / 3.0;
            const double b = high - (high - low) / 3.0;
            if (glm::length(p - at(a)) < glm::length(p - at(b))) {
                high = b;
            } else {
                low = a;
            }
        }
        return glm::length(p - at(0.5 * (low + high)));
    }
    glm::dvec2 half_;
    std::vector<glm::dvec2> curve_;
};

// What "the unit normal at the nearest point" means: going back by the distance along it ends on
// the outline, and there nothing of the blank lies farther out along it.
void check_normal(const BlankGeometry& blank, glm::dvec2 p) {
    const glm::dvec2 n = blank.outline_normal(p);
    CHECK(glm::length(n) == doctest::Approx(1.0).epsilon(1e-14));
    const glm::dvec2 foot = p - blank.outline_distance_mm(p) * n;
    const double size = glm::length(blank.size_mm()) + glm::length(p);
    CHECK(std::abs(blank.outline_distance_mm(foot)) < 1e-11 * size);
    CHECK(blank.outline_support_mm(n) - glm::dot(n, foot) < 1e-11 * size);
}

}  // namespace

TEST_CASE("outlines of sides and arcs: distance, normal and reach") {
    // Source: distance to the nearest of the pieces the outline is drawn from. A dozen roundings of
    // numbers up to 200 mm: 1e-12 mm.
    for (const auto& drawn : drawn_blanks()) {
        CAPTURE(drawn.name);
        const BlankGeometry blank(drawn.settings);
        const glm::dvec2 half = 0.5 * blank.size_mm();
        const DrawnOutline outline(half, drawn.radius_mm);
        for (const auto& p : probes(half, 100, 1)) {
            CAPTURE(p.x);
            CAPTURE(p.y);
            CHECK(std::abs(blank.outline_distance_mm(p) - outline.distance(p)) < 1e-12);
            check_normal(blank, p);
        }
        Random random(2);
        for (int i = 0; i < 100; ++i) {
            const glm::dvec2 n = random.direction();
            CHECK(std::abs(blank.outline_support_mm(n) - outline.reach(n)) < 1e-12);
        }
    }
}

TEST_CASE("ellipses: distance, normal and reach") {
    const auto half = std::vector<glm::dvec2>{{19, 12}, {12, 19},     {19, 19.0 * (1 - 1e-9)},
                                              {30, 1},  {0.05, 1000}, {1000, 0.001}};
    for (const auto& h : half) {
        CAPTURE(h.x);
        CAPTURE(h.y);
        const BlankGeometry blank(oval(2 * h.x, 2 * h.y));
        const SampledEllipse ellipse(h);
        // Source: 200,000 points. Their nearest is refined until thirds of the interval differ by
        // rounding alone: 1e-12 of the longest length. Where two parts of the curve are nearly
        // equally near, each is refined.
        const double rounding = 1e-12 * 2.0 * std::max(h.x, h.y);
        for (const auto& p : probes(h, 8, 3)) {
            CAPTURE(p.x);
            CAPTURE(p.y);
            CHECK(std::abs(blank.outline_distance_mm(p) - ellipse.distance(p)) < rounding);
            check_normal(blank, p);
        }
        // Between two points of a curve cut into 200,000 the arc rises over them by at most
        // size * (pi / 200,000)^2 / 2.
        const double arc = std::max(h.x, h.y) * std::pow(pi / SampledEllipse::samples, 2) / 2;
        Random random(4);
        for (int i = 0; i < 8; ++i) {
            const glm::dvec2 n = random.direction();
            const double over = blank.outline_support_mm(n) - ellipse.reach(n);
            CHECK(over > -1e-12 * std::max(h.x, h.y));
            CHECK(over < arc + 1e-12 * std::max(h.x, h.y));
        }
    }
}

TEST_CASE("ellipses: points on the axes in closed form") {
    // Source: the derivative of the squared distance set to zero. On the long axis the nearest
    // point is the tip only beyond the tip's centre of curvature, a - b^2/a from the middle; before
    // it the distance is b sqrt(1 - x^2 / (a^2 - b^2)). On the short axis it is always the tip.
    for (const glm::dvec2 h : {glm::dvec2(19, 12), glm::dvec2(30, 1), glm::dvec2(1000, 0.01)}) {
        CAPTURE(h.x);
        const double a = h.x;
        const double b = h.y;
        const BlankGeometry lying(oval(2 * a, 2 * b));
        const BlankGeometry upright(oval(2 * b, 2 * a));
        const double turn = a - b * b / a;
        for (int i = 0; i <= 1000; ++i) {
            const double x = turn * i / 1000.0;
            const double flat = -b * std::sqrt(std::max(1 - x * x / (a * a - b * b), 0.0));
            const double tip = turn + (2 * a - turn) * i / 1000.0;
            const double y = 2 * b * i / 1000.0;
            for (const double side : {1.0, -1.0}) {
                CHECK(std::abs(lying.outline_distance_mm({side * x, 0}) - flat) < 1e-13 * a);
                CHECK(std::abs(upright.outline_distance_mm({0, side * x}) - flat) < 1e-13 * a);
                CHECK(std::abs(lying.outline_distance_mm({side * tip, 0}) - (tip - a)) < 1e-13 * a);
                CHECK(std::abs(lying.outline_distance_mm({0, side * y}) - (y - b)) < 1e-13 * a);
            }
            // A hair off the axis is no other place.
            CHECK(std::abs(lying.outline_distance_mm({x, 1e-14 * b}) - flat) < 1e-13 * a);
        }
    }
    const BlankGeometry disc(oval(38, 38));
    CHECK(disc.outline_distance_mm({0, 0}) == doctest::Approx(-19).epsilon(1e-15));
    CHECK(disc.outline_distance_mm({3, 4}) == doctest::Approx(-14).epsilon(1e-15));
    CHECK(disc.outline_distance_mm({30, -40}) == doctest::Approx(31).epsilon(1e-15));
}

TEST_CASE("the field is all that lies at least rim_mm inside") {
    for (auto settings : {round_blank(38), tag(30, 50), rectangle(60, 40, 5), oval(50, 30)}) {
        settings.rim_mm = 1.7;
        const BlankGeometry blank(settings);
        CHECK(blank.field_size_mm().x == doctest::Approx(settings.width_mm - 3.4).epsilon(1e-15));
        CHECK(blank.field_size_mm().y == doctest::Approx(settings.height_mm - 3.4).epsilon(1e-15));
        CHECK(blank.field_shorter_side_mm() ==
              doctest::Approx(std::min(settings.width_mm, settings.height_mm) - 3.4));
        // Definition: a disc of the rim's width about a point of the field stays on the blank; one
        // about a point that is not in it does not.
        Random random(5);
        for (int i = 0; i < 300; ++i) {
            const glm::dvec2 p = random.in_square(30);
            double most = std::numeric_limits<double>::lowest();
            for (int k = 0; k < 720; ++k) {
                const double angle = 2 * pi * k / 720;
                most = std::max(most, blank.outline_distance_mm(
                                          p + 1.7 * glm::dvec2(std::cos(angle), std::sin(angle))));
            }
            // 720 directions miss the outermost by up to (pi / 720)^2 / 2 of the radius and, where
            // the outline is curved, as much of its own: 2e-4 mm.
            if (std::abs(blank.field_distance_mm(p)) < 2e-4) continue;
            CHECK((blank.field_distance_mm(p) < 0) == (most < 0));
        }
    }
}

TEST_CASE("chords in closed form") {
    // Bisection halves the half width 48 times: 4e-15 of it; times the slope dx/d(distance) = r/x
    // of an edge that is crossed at a slant, which is below 20 at the heights tried.
    constexpr double near = 1e-11;
    const auto circle = [](double r, double y) {
        return std::abs(y) < r ? std::sqrt(r * r - y * y) : 0.0;
    };
    const BlankGeometry disc(round_blank(38));
    const BlankGeometry upright(tag(30, 50));
    const BlankGeometry sides(rectangle(60, 40, 5));
    const BlankGeometry ellipse(oval(60, 40));
    for (const double share : {0.0, 0.1, -0.35, 0.5, 0.77, -0.9, 0.99, 1.0, 1.2}) {
        for (const double inset : {0.0, 1.25, 3.0, 8.0}) {
            CAPTURE(share);
            CAPTURE(inset);
            const double y = share * (19 - inset);
            CHECK(std::abs(disc.half_chord_mm(y, inset) - circle(19 - inset, y)) < near);
            const double t = share * (25 - inset);
            const double in_end = std::max(std::abs(t) - 10, 0.0);
            CHECK(std::abs(upright.half_chord_mm(t, inset) - circle(15 - inset, in_end)) < near);
            // Less an inset, round corners keep their centres; those that are used up are sharp.
            const double s = share * (20 - inset);
            const double corner = std::max(5 - inset, 0.0);
            const double in_corner = std::max(std::abs(s) - (20 - inset - corner), 0.0);
            const double straight = std::abs(s) < 20 - inset ? 30 - inset - corner : 0.0;
            CHECK(std::abs(sides.half_chord_mm(s, inset) - straight - circle(corner, in_corner)) <
                  near);
        }
        const double e = 20 * share;
        CHECK(std::abs(ellipse.half_chord_mm(e, 0) - 1.5 * circle(20, e)) < near);
    }
    // Along the long axis of an ellipse, from the distances above: an inset of more than b^2/a =
    // 13.3 mm leaves a shape with a pointed end at x^2 = (a^2 - b^2)(1 - inset^2/b^2).
    CHECK(std::abs(ellipse.half_chord_mm(0, 10) - 20) < near);
    CHECK(std::abs(ellipse.half_chord_mm(0, 16) - std::sqrt(500 * (1 - 0.64))) < near);
    CHECK(ellipse.half_chord_mm(0, 20) == 0.0);
}

TEST_CASE("hole and exergue") {
    auto settings = tag(30, 50);
    settings.rim_mm = 1.2;
    settings.exergue_mm = 7;
    CHECK_FALSE(BlankGeometry(settings).has_hole());
    CHECK(BlankGeometry(settings).hole_half_chord_mm(0) == 0.0);
    settings.hole = HoleSettings{3.0, 4.0};
    const BlankGeometry blank(settings);
    CHECK(blank.has_hole());
    CHECK(blank.hole_centre_mm() == glm::dvec2(0, 21));
    CHECK(blank.hole_half_chord_mm(21) == 1.5);
    CHECK(std::abs(blank.hole_half_chord_mm(21.9) - 1.2) < 1e-14);  // 3-4-5
    CHECK(std::abs(blank.hole_half_chord_mm(20.1) - 1.2) < 1e-14);
    CHECK(blank.hole_half_chord_mm(22.5) == 0.0);
    CHECK(blank.hole_half_chord_mm(0) == 0.0);
    // 7 mm up from the field's foot, which is a rim up from the blank's.
    CHECK(std::abs(blank.exergue_line_mm() - (-25 + 1.2 + 7)) < 1e-14);
}

TEST_CASE("the size of a picture") {
    const auto grid_of = [](double width_mm, double height_mm, double px_per_mm) {
        ImageSettings image;
        image.px_per_mm = px_per_mm;
        return make_grid(BlankGeometry(rectangle(width_mm, height_mm, 0)), image);
    };
    struct Size {
        double width_mm, height_mm, px_per_mm;
        int width, height;
    };
    // design.md, "Contracts of the passes": round(size * px_per_mm).
    for (const Size& size : {Size{38, 38, 40, 1520, 1520}, Size{30.01, 29.99, 40, 1200, 1200},
                             Size{12.25, 12.2, 2, 25, 24}, Size{1, 1, 0.5, 1, 1},
                             Size{0.4, 10, 2, 1, 20}, Size{2000, 1, 1000, 2000000, 1000}}) {
        const ImageGrid grid = grid_of(size.width_mm, size.height_mm, size.px_per_mm);
        CHECK(grid.width == size.width);
        CHECK(grid.height == size.height);
        CHECK(grid.px_per_mm == size.px_per_mm);
        // The blank's middle lies in the picture's: opposite pixels are opposite places.
        const glm::dvec2 first = grid.centre_of(0, 0);
        const glm::dvec2 last = grid.centre_of(grid.width - 1, grid.height - 1);
        CHECK(glm::length(first + last) < 1e-12 * size.width_mm);
        CHECK(first.x <= 0.0);
        CHECK(first.y >= 0.0);
        CHECK(std::abs(last.x - first.x - (grid.width - 1) / size.px_per_mm) < 1e-12 * 2000);
    }
    auto rimmed = round_blank(38);
    rimmed.rim_mm = 1.2;
    ImageSettings field;
    field.covers = Covers::field;
    CHECK(make_grid(BlankGeometry(rimmed), field).width == 1424);  // 35.6 mm

    CHECK(grid_of(46.340, 46.340, 1000).width == 46340);  // 2,147,395,600 pixels, below 2^31
    for (const Size& size :
         {Size{46.341, 46.341, 1000, 46341, 46341}, Size{2000, 2000, 1000, 2000000, 2000000},
          Size{1, 1, 0.4, 0, 0}, Size{0.1, 1000, 4, 0, 4000}}) {
        const Error error =
            error_of([&] { grid_of(size.width_mm, size.height_mm, size.px_per_mm); });
        CHECK(error.code() == ExitCode::bad_scene);
        CHECK(std::string(error.what()) ==
              "[image] px_per_mm: found a picture of " + std::to_string(size.width) + " x " +
                  std::to_string(size.height) +
                  " pixels; expected at least one pixel and fewer than 2^31");
    }
}
