#include "framing/blank.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "error.hpp"

namespace rakelight {
namespace {

double corner_radius_mm(const BlankSettings& settings) {
    switch (settings.shape) {
        case BlankShape::round:
            return 0.5 * settings.width_mm;
        case BlankShape::tag:
            return 0.5 * std::min(settings.width_mm, settings.height_mm);
        case BlankShape::rectangle:
            return settings.corner_radius_mm;
        case BlankShape::oval:
            break;
    }
    return 0.0;
}

// A rounded rectangle is a smaller one grown by the radius of its corners. From the smaller one's
// corner to |p|:
glm::dvec2 from_corner(glm::dvec2 p, glm::dvec2 half, double radius) {
    return glm::abs(p) - (half - radius);
}

double rounded_box_distance(glm::dvec2 p, glm::dvec2 half, double radius) {
    const glm::dvec2 q = from_corner(p, half, radius);
    return glm::length(glm::max(q, 0.0)) + std::min(std::max(q.x, q.y), 0.0) - radius;
}

// A rounded rectangle's inset is one too, its corners' radius smaller by as much, at least 0.
double rounded_box_half_chord(double y, glm::dvec2 half, double radius) {
    const double beside = half.y - std::abs(y);
    if (beside <= 0.0 || half.x <= 0.0) return 0.0;
    const double up = std::max(radius - beside, 0.0);  // into the corners
    return half.x - radius + std::sqrt((radius - up) * (radius + up));
}

glm::dvec2 rounded_box_normal(glm::dvec2 p, glm::dvec2 half, double radius) {
    const glm::dvec2 q = from_corner(p, half, radius);
    glm::dvec2 n = q.x > q.y ? glm::dvec2(1.0, 0.0) : glm::dvec2(0.0, 1.0);
    if (q.x > 0.0 && q.y > 0.0) n = q / std::hypot(q.x, q.y);
    return {std::copysign(n.x, p.x), std::copysign(n.y, p.y)};
}

// The nearest point of an ellipse with half axes a >= b to a point (x, y) of the first quadrant is
// (a^2 x / (s + a^2 - b^2), b^2 y / s) for the one s > 0 that puts it on the curve: what "the line
// to it is a normal" says. Solved for s, a small difference near the long axis is never lost in a
// large number. The equation falls and is convex in s: Newton's steps from the left only climb.
glm::dvec2 nearest_in_quadrant(double a, double b, double x, double y) {
    const double gap = (a - b) * (a + b);
    if (y < 1e-100 * b) {
        const double on_axis = a * x < gap ? a * (a * x / gap) : a;
        return {on_axis, b * std::sqrt(std::max(1.0 - (on_axis / a) * (on_axis / a), 0.0))};
    }
    double s = std::max(b * y, a * x - gap);
    for (int i = 0; i < 1000; ++i) {  // grows by half while far off, then quadratic
        const double u = a * x / (s + gap);
        const double v = b * y / s;
        const double next = s + 0.5 * (u * u + v * v - 1.0) / (u * u / (s + gap) + v * v / s);
        if (!(next > s)) break;
        s = next;
    }
    return {a * (a * x / (s + gap)), b * (b * y / s)};
}

glm::dvec2 nearest_on_ellipse(glm::dvec2 p, glm::dvec2 half) {
    const glm::dvec2 q = glm::abs(p);
    glm::dvec2 nearest;
    if (half.x >= half.y) {
        nearest = nearest_in_quadrant(half.x, half.y, q.x, q.y);
    } else {
        const glm::dvec2 turned = nearest_in_quadrant(half.y, half.x, q.y, q.x);
        nearest = {turned.y, turned.x};
    }
    return {std::copysign(nearest.x, p.x), std::copysign(nearest.y, p.y)};
}

double ellipse_distance(glm::dvec2 p, glm::dvec2 half) {
    const double distance = glm::length(p - nearest_on_ellipse(p, half));
    return glm::length(p / half) < 1.0 ? -distance : distance;
}

glm::dvec2 ellipse_normal(glm::dvec2 p, glm::dvec2 half) {
    const glm::dvec2 n = nearest_on_ellipse(p, half) / half / half;
    return n / std::hypot(n.x, n.y);
}

double circle_half_chord(double radius, double y) {
    return std::abs(y) < radius ? std::sqrt(radius * radius - y * y) : 0.0;
}

int pixels(double size_mm, double px_per_mm) {
    return static_cast<int>(std::lround(std::min(size_mm * px_per_mm, 1e9)));
}

}  // namespace

BlankGeometry::BlankGeometry(const BlankSettings& settings)
    : settings_(settings),
      half_(0.5 * settings.width_mm, 0.5 * settings.height_mm),
      corner_mm_(corner_radius_mm(settings)) {}

double BlankGeometry::field_shorter_side_mm() const {
    return std::min(field_size_mm().x, field_size_mm().y);
}

double BlankGeometry::rim_height_mm() const {
    constexpr double usual_share = 0.45;
    return settings_.rim_height_mm.value_or(usual_share * settings_.rim_mm);
}

double BlankGeometry::outline_distance_mm(glm::dvec2 p) const {
    if (settings_.shape == BlankShape::oval) return ellipse_distance(p, half_);
    return rounded_box_distance(p, half_, corner_mm_);
}

glm::dvec2 BlankGeometry::outline_normal(glm::dvec2 p) const {
    if (settings_.shape == BlankShape::oval) return ellipse_normal(p, half_);
    return rounded_box_normal(p, half_, corner_mm_);
}

double BlankGeometry::outline_support_mm(glm::dvec2 n) const {
    if (settings_.shape == BlankShape::oval) return glm::length(half_ * n);
    return glm::dot(half_ - corner_mm_, glm::abs(n)) + corner_mm_;
}

double BlankGeometry::half_chord_mm(double y, double inset_mm) const {
    if (settings_.shape != BlankShape::oval)
        return rounded_box_half_chord(y, half_ - inset_mm, std::max(corner_mm_ - inset_mm, 0.0));
    if (outline_distance_mm({0.0, y}) + inset_mm >= 0.0) return 0.0;
    double inside = 0.0;
    double outside = half_.x;
    for (int i = 0; i < 48; ++i) {  // the distance grows with x: bisection finds the one crossing
        const double x = 0.5 * (inside + outside);
        (outline_distance_mm({x, y}) + inset_mm < 0.0 ? inside : outside) = x;
    }
    return 0.5 * (inside + outside);
}

glm::dvec2 BlankGeometry::hole_centre_mm() const {
    return {0.0, settings_.hole ? half_.y - settings_.hole->from_top_mm : 0.0};
}

double BlankGeometry::hole_half_chord_mm(double y) const {
    if (!settings_.hole) return 0.0;
    return circle_half_chord(0.5 * settings_.hole->diameter_mm, y - hole_centre_mm().y);
}

double BlankGeometry::exergue_line_mm() const {
    return -half_.y + settings_.rim_mm + settings_.exergue_mm;
}

ImageGrid make_grid(const BlankGeometry& blank, const ImageSettings& image) {
    const glm::dvec2 size = image.covers == Covers::blank ? blank.size_mm() : blank.field_size_mm();
    ImageGrid grid;
    grid.width = pixels(size.x, image.px_per_mm);
    grid.height = pixels(size.y, image.px_per_mm);
    grid.px_per_mm = image.px_per_mm;
    grid.left_mm = -0.5 * grid.width / image.px_per_mm;
    grid.top_mm = 0.5 * grid.height / image.px_per_mm;
    const double count = static_cast<double>(grid.width) * grid.height;
    if (count < 1.0 || count > 2147483647.0) {
        throw Error(ExitCode::bad_scene,
                    "[image] px_per_mm: found a picture of " + std::to_string(grid.width) + " x " +
                        std::to_string(grid.height) +
                        " pixels; expected at least one pixel and fewer than 2^31");
    }
    return grid;
}

}  // namespace rakelight
