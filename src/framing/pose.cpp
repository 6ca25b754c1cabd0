// The axes of model files, and the turn from them to the view's.

#include <cassert>
#include <cmath>
#include <stdexcept>

#include "framing/frame.hpp"

namespace rakelight {
namespace {

// Where a file has z up, its front looks along -y; otherwise along +z, and for z down along +y: the
// usual front views of the two conventions.
Axis usual_front(Axis up) {
    if (up == Axis::plus_z) return Axis::minus_y;
    if (up == Axis::minus_z) return Axis::plus_y;
    return Axis::plus_z;
}

}  // namespace

glm::dvec3 axis_vector(Axis axis) {
    const int index = static_cast<int>(axis);
    glm::dvec3 v(0.0);
    v[index / 2] = index % 2 == 0 ? 1.0 : -1.0;
    return v;
}

std::string axis_name(Axis axis) {
    static constexpr const char* names[] = {"+x", "-x", "+y", "-y", "+z", "-z"};
    return names[static_cast<int>(axis)];
}

Axis axis_from_name(const std::string& name) {
    for (int i = 0; i < 6; ++i) {
        if (axis_name(static_cast<Axis>(i)) == name) return static_cast<Axis>(i);
    }
    throw std::logic_error("no axis is called " + name);
}

glm::dmat3 view_from_model(const PoseSettings& pose, Axis up, std::optional<Axis> front) {
    const glm::dvec3 y = axis_vector(up);
    const glm::dvec3 z = axis_vector(front.value_or(usual_front(up)));
    assert(glm::dot(y, z) == 0.0);
    const glm::dmat3 upright = glm::transpose(glm::dmat3(glm::cross(y, z), y, z));
    const auto sine = [](double deg) { return std::sin(glm::radians(deg)); };
    const auto cosine = [](double deg) { return std::cos(glm::radians(deg)); };
    const double sy = sine(pose.yaw_deg), cy = cosine(pose.yaw_deg);
    const double sp = sine(pose.pitch_deg), cp = cosine(pose.pitch_deg);
    const double sr = sine(pose.roll_deg), cr = cosine(pose.roll_deg);
    const glm::dmat3 yaw(cy, 0, -sy, 0, 1, 0, sy, 0, cy);  // columns
    const glm::dmat3 pitch(1, 0, 0, 0, cp, sp, 0, -sp, cp);
    const glm::dmat3 roll(cr, sr, 0, -sr, cr, 0, 0, 0, 1);
    return roll * pitch * yaw * upright;
}

}  // namespace rakelight
