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

double rounded_box_distance(glm::dvec2 p, glm::dvec2 half, double radius) {
    const glm::dvec2 q = glm::abs(p) - (half - radius);
    return glm::length(glm::max(q, 0.0)) + std::min(std::max(q.x, q.y), 0.0) - radius;
}

// The nearest point of an ellipse satisfies (a u / (t + a^2))^2 + (b v / (t + b^2))^2 = 1 for one
// t > -b^2 (b the shorter half axis); the left side falls in t, so bisection always ends. After
// Eberly, "Distance from a point to an ellipse" (from memory).
double ellipse_distance(glm::dvec2 p, glm::dvec2 half) {
    glm::dvec2 q = glm::abs(p);
    double a = half.x;
    double b = half.y;
    if (a < b) {
        std::swap(a, b);
        std::swap(q.x, q.y);
    }
    q.y = std::max(q.y, 1e-12 * b);  // on the long axis the formula divides by zero
    double low = -b * b + b * q.y;
    double high = -b * b + std::hypot(a * q.x, b * q.y);
    for (int i = 0; i < 80 && high - low > 1e-16 * a * a; ++i) {
        const double t = 0.5 * (low + high);
        const double x = a * q.x / (t + a * a);
        const double y = b * q.y / (t + b * b);
        (x * x + y * y > 1.0 ? low : high) = t;
    }
    const double t = 0.5 * (low + high);
    const glm::dvec2 nearest(a * a * q.x / (t + a * a), b * b * q.y / (t + b * b));
    const bool inside = q.x * q.x / (a * a) + q.y * q.y / (b * b) < 1.0;
    return (inside ? -1.0 : 1.0) * glm::length(q - nearest);
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

double BlankGeometry::outline_distance_mm(glm::dvec2 p) const {
    if (settings_.shape == BlankShape::oval) return ellipse_distance(p, half_);
    return rounded_box_distance(p, half_, corner_mm_);
}

double BlankGeometry::outline_support_mm(glm::dvec2 n) const {
    if (settings_.shape == BlankShape::oval) return glm::length(half_ * n);
    return glm::dot(half_ - corner_mm_, glm::abs(n)) + corner_mm_;
}

double BlankGeometry::half_chord_mm(double y, double inset_mm) const {
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
