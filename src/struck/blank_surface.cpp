#include "struck/blank_surface.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace rakelight {
namespace {

constexpr double steepest = 0.8;    // sine of the tilt of a shoulder
constexpr double shoulder = 0.36;   // of the rim's width
constexpr double bare_edge = 0.02;  // of the shorter side, where there is no rim
constexpr double chamfer = 0.14;    // of the hole's diameter

Direction tilted(glm::dvec2 towards, double sine) {
    return {static_cast<float>(sine * towards.x), static_cast<float>(sine * towards.y),
            static_cast<float>(std::sqrt(1.0 - sine * sine))};
}

}  // namespace

BlankSurface::BlankSurface(const BlankSettings& settings) : geometry_(settings) {
    const double rim = settings.rim_mm;
    rim_height_mm_ = geometry_.rim_height_mm();
    shoulder_mm_ = rim > 0.0 ? shoulder * rim
                             : bare_edge * std::min(geometry_.size_mm().x, geometry_.size_mm().y);
    flat_inside_mm_ = std::max(rim, shoulder_mm_);
    if (settings.hole) {
        hole_radius_mm_ = 0.5 * settings.hole->diameter_mm;
        chamfer_mm_ = chamfer * settings.hole->diameter_mm;
    }
}

bool BlankSurface::near_the_hole(glm::dvec2 p, Point& point) const {
    if (!geometry_.has_hole()) return false;
    const glm::dvec2 from = p - geometry_.hole_centre_mm();
    const double distance = glm::length(from);
    const double out = (distance - hole_radius_mm_) / chamfer_mm_;
    if (out >= 1.0 || distance <= 0.0) return false;
    point.normal = tilted(from / distance, -steepest * std::clamp(1.0 - out, 0.0, 1.0));
    return true;
}

BlankSurface::Point BlankSurface::at(glm::dvec2 p, double flat_half_mm) const {
    Point point;
    const bool at_hole = near_the_hole(p, point);
    if (std::abs(p.x) < flat_half_mm) return point;
    const double inside = -geometry_.outline_distance_mm(p);
    if (inside >= flat_inside_mm_) return point;
    const double rim = geometry_.settings().rim_mm;
    const double to_field = rim - inside;
    // The shoulder to the field begins and ends level, so that it has no seam on either side.
    const double rise = rim > 0.0 ? std::clamp(to_field / shoulder_mm_, 0.0, 1.0) : 0.0;
    point.height_mm = static_cast<float>(rim_height_mm_ * rise * rise * (3.0 - 2.0 * rise));
    if (at_hole) return point;
    const glm::dvec2 outward = geometry_.outline_normal(p);
    if (inside < shoulder_mm_) {
        const double fall = std::clamp(1.0 - inside / shoulder_mm_, 0.0, 1.0);
        point.normal = tilted(outward, steepest * std::sin(0.5 * std::numbers::pi * fall));
    } else if (rise < 1.0 && rim_height_mm_ > 0.0) {
        point.normal = tilted(outward, -steepest * std::sin(std::numbers::pi * rise));
    }
    return point;
}

}  // namespace rakelight
