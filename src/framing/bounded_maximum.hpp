#pragma once
// Private to framing/: a linear programme in three unknowns, for fitting.

#include <optional>
#include <vector>

#include <glm/glm.hpp>

namespace rakelight {

/// coefficients . x <= limit
struct LinearBound {
    glm::dvec3 coefficients;
    double limit;
};

/// The x that makes objective . x largest within all bounds, found by looking at every corner that
/// three bounds make: meant for a few dozen bounds. Empty when no corner keeps all bounds.
std::optional<glm::dvec3> bounded_maximum(const std::vector<LinearBound>& bounds,
                                          glm::dvec3 objective);

}  // namespace rakelight
