#include <cmath>
#include <numbers>

#include "model/repair/surface.hpp"

namespace rakelight {
namespace {

// The arc tangent of x in [0, 1] with an error below 2.1e-8 (Abramowitz and Stegun 1964, Handbook
// of Mathematical Functions, 4.4.49). The angles are weights, a thousand times coarser would do;
// this runs several times faster than std::atan2.
double arc_tangent(double x) {
    const double s = x * x;
    double p = 0.0028662257;
    p = p * s - 0.0161657367;
    p = p * s + 0.0429096138;
    p = p * s - 0.0752896400;
    p = p * s + 0.1065626393;
    p = p * s - 0.1420889944;
    p = p * s + 0.1999355085;
    p = p * s - 0.3333314528;
    return x + x * s * p;
}

// The angle whose sine and cosine are `sine` > 0 and `cosine` times the same number.
double angle_of(double sine, double cosine) {
    const double c = std::abs(cosine);
    const double half_right =
        sine <= c ? arc_tangent(sine / c) : std::numbers::pi / 2.0 - arc_tangent(c / sine);
    return cosine < 0.0 ? std::numbers::pi - half_right : half_right;
}

// Twice the area, along the normal. Of a triangle that is nearly a line one pair of sides may give
// zero by rounding; the other pair is the one by which it was found to have an area.
glm::dvec3 area_of(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c) {
    const glm::dvec3 area = glm::cross(b - a, c - b);
    return area == glm::dvec3(0.0) ? glm::cross(b - a, c - a) : area;
}

}  // namespace

glm::vec3 normal_of(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c) {
    const glm::dvec3 area = area_of(a, b, c);
    return glm::vec3(area * (1.0 / std::sqrt(glm::dot(area, area))));
}

Face face_of(glm::dvec3 a, glm::dvec3 b, glm::dvec3 c) {
    const glm::dvec3 ab = b - a, bc = c - b, ca = a - c;
    const glm::dvec3 area = area_of(a, b, c);
    // Its length is the sine of each angle times the sides that enclose it.
    const double length = std::sqrt(glm::dot(area, area));
    const double at_a = angle_of(length, -glm::dot(ab, ca));
    const double at_b = angle_of(length, -glm::dot(ab, bc));
    const double at_c = std::max(0.0, std::numbers::pi - at_a - at_b);
    return {glm::vec3(area * (1.0 / length)),
            {static_cast<float>(at_a), static_cast<float>(at_b), static_cast<float>(at_c)}};
}

}  // namespace rakelight
