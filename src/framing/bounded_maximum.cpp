#include "framing/bounded_maximum.hpp"

#include <cmath>
#include <limits>

namespace rakelight {
namespace {

constexpr double slack = 1e-9;  // relative; corners come from 3 x 3 systems in double

std::optional<glm::dvec3> corner(const LinearBound& a, const LinearBound& b, const LinearBound& c) {
    const glm::dvec3 bc = glm::cross(b.coefficients, c.coefficients);
    const double volume = glm::dot(a.coefficients, bc);
    if (std::abs(volume) < 1e-12) return std::nullopt;
    return (a.limit * bc + b.limit * glm::cross(c.coefficients, a.coefficients) +
            c.limit * glm::cross(a.coefficients, b.coefficients)) /
           volume;
}

bool within(const std::vector<LinearBound>& bounds, glm::dvec3 x) {
    for (const auto& bound : bounds) {
        const double size = std::abs(bound.limit) + glm::length(bound.coefficients);
        if (glm::dot(bound.coefficients, x) > bound.limit + slack * size) return false;
    }
    return true;
}

}  // namespace

std::optional<glm::dvec3> bounded_maximum(const std::vector<LinearBound>& bounds,
                                          glm::dvec3 objective) {
    std::optional<glm::dvec3> best;
    double best_value = std::numeric_limits<double>::lowest();
    for (std::size_t i = 0; i < bounds.size(); ++i) {
        for (std::size_t j = i + 1; j < bounds.size(); ++j) {
            for (std::size_t k = j + 1; k < bounds.size(); ++k) {
                const auto x = corner(bounds[i], bounds[j], bounds[k]);
                if (!x || glm::dot(objective, *x) <= best_value || !within(bounds, *x)) continue;
                best = x;
                best_value = glm::dot(objective, *x);
            }
        }
    }
    return best;
}

}  // namespace rakelight
