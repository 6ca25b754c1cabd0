#include "model/rig/tracks.hpp"

#include <cmath>

namespace rakelight {

bool is_usable(double value) {
    return std::isfinite(value);
}

bool is_usable(const glm::dvec3& value) {
    return std::isfinite(value.x) && std::isfinite(value.y) && std::isfinite(value.z);
}

bool is_usable(const glm::dquat& value) {
    const double length = glm::dot(value, value);
    return std::isfinite(length) && length > 0.0;
}

double between(double a, double b, double t) {
    return a + t * (b - a);
}

glm::dvec3 between(const glm::dvec3& a, const glm::dvec3& b, double t) {
    return a + t * (b - a);
}

glm::dquat settled(const glm::dquat& value) {
    return value / std::sqrt(glm::dot(value, value));
}

// glTF 2.0 specification, C.4: the angle between both, the shorter way round; where that angle is
// next to nothing, along the line.
glm::dquat between(const glm::dquat& from, const glm::dquat& to, double t) {
    const glm::dquat a = settled(from), b = settled(to);
    const double cosine = glm::dot(a, b);
    const double sign = cosine < 0.0 ? -1.0 : 1.0;
    const double angle = std::acos(std::min(1.0, std::abs(cosine)));
    constexpr double next_to_nothing = 1e-6;
    if (angle < next_to_nothing) return (1.0 - t) * a + (sign * t) * b;
    const double sine = std::sin(angle);
    return (std::sin((1.0 - t) * angle) / sine) * a + (sign * std::sin(t * angle) / sine) * b;
}

}  // namespace rakelight
