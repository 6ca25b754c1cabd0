// Cigolle, Donow, Evangelakos, Mara, McGuire, Meyer 2014, "A Survey of Efficient Representations
// for Independent Unit Vectors", JCGT 3(2), section 3 and listing 2: the sphere is projected to the
// octahedron |x| + |y| + |z| = 1, whose lower half is folded over the upper one.

#include <algorithm>
#include <cmath>

#include "model/mesh.hpp"

namespace rakelight {
namespace {

double sign_not_zero(double v) {
    return v < 0.0 ? -1.0 : 1.0;
}

glm::dvec2 fold(glm::dvec2 p) {
    return {(1.0 - std::abs(p.y)) * sign_not_zero(p.x), (1.0 - std::abs(p.x)) * sign_not_zero(p.y)};
}

// Half away from zero, like std::lround but without its call; |v| <= 1.
std::int16_t to_code(double v) {
    return static_cast<std::int16_t>(v * 32767.0 + std::copysign(0.5, v));
}

}  // namespace

std::array<std::int16_t, 2> encode_octahedral(glm::dvec3 unit) {
    const double to_octahedron = 1.0 / (std::abs(unit.x) + std::abs(unit.y) + std::abs(unit.z));
    glm::dvec2 p(unit.x * to_octahedron, unit.y * to_octahedron);
    if (unit.z < 0.0) p = fold(p);
    return {to_code(p.x), to_code(p.y)};
}

glm::dvec3 decode_octahedral(std::array<std::int16_t, 2> code) {
    glm::dvec2 p(std::max(code[0] / 32767.0, -1.0), std::max(code[1] / 32767.0, -1.0));
    const double z = 1.0 - std::abs(p.x) - std::abs(p.y);
    if (z < 0.0) p = fold(p);
    return glm::normalize(glm::dvec3(p, z));
}

}  // namespace rakelight
