#pragma once
// Rays against triangles, by Embree: whoever is right about what a camera sees, it was not us.

#include <array>
#include <cstdint>
#include <glm/glm.hpp>
#include <memory>
#include <optional>
#include <vector>

namespace reference {

using Triangle = std::array<std::uint32_t, 3>;

/// A set of triangles to shoot at. Rays may come from several threads.
class Tracer {
public:
    /// Copies both. Positions are rounded to single precision, as Embree holds them.
    Tracer(const std::vector<glm::dvec3>& points, const std::vector<Triangle>& triangles);
    ~Tracer();
    Tracer(const Tracer&) = delete;
    Tracer& operator=(const Tracer&) = delete;

    /// The first triangle that from + t * along meets for t > 0, whichever way it faces.
    std::optional<std::uint32_t> first(glm::dvec3 from, glm::dvec3 along) const;
    /// All triangles that it meets, in no order.
    std::vector<std::uint32_t> all(glm::dvec3 from, glm::dvec3 along) const;
    /// Whether anything lies on the way.
    /// @param direction  of length 1
    /// @param reach      how far the way goes, > 0
    bool blocked(glm::dvec3 from, glm::dvec3 direction, double reach) const;

private:
    struct Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace reference
