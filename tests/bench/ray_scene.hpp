#pragma once
// The peer of the passes: rays traced by Embree through a mesh in view space, mm, as fast as its
// plain interface goes.

#include <embree3/rtcore.h>

#include <array>
#include <glm/glm.hpp>
#include <span>
#include <vector>

namespace bench {

using Triangle = std::array<std::uint32_t, 3>;

/// Where rays of occlusion start: view space, mm; normal of length 1.
struct Place {
    glm::vec3 at;
    glm::vec3 normal;
};

/// Directions about +z, spread by the cosine and stratified, in several drawings of which each
/// pixel takes one.
class RaySet {
public:
    /// @param strata_u, strata_v  their product is the number of rays
    RaySet(int strata_u, int strata_v);
    int rays() const { return rays_; }
    /// @param pixel  any number that tells pixels apart
    std::span<const glm::vec3> of_pixel(std::uint32_t pixel) const;

private:
    int rays_;
    std::vector<glm::vec3> directions_;
};

/// Which of Embree's calls shoots the rays of occlusion.
enum class Shots { single, packets };

class RayScene {
public:
    /// Builds Embree's tree.
    RayScene(std::span<const glm::vec3> points, std::span<const Triangle> triangles);
    ~RayScene();
    RayScene(const RayScene&) = delete;
    RayScene& operator=(const RayScene&) = delete;

    /// 16 rays against the view axis, from z = from_mm.
    struct Hits {
        std::array<bool, 16> hit;
        std::array<std::uint32_t, 16> triangle;
        std::array<float, 16> z_mm, u, v;  ///< barycentric: of the second and the third corner
    };
    void look_down(const std::array<float, 16>& x_mm, const std::array<float, 16>& y_mm,
                   float from_mm, Hits& hits) const;

    /// The share of the rays that meet nothing within the reach; they are dealt to the places.
    /// @param places  at least one
    float open_share(std::span<const Place> places, std::span<const glm::vec3> rays, float reach_mm,
                     Shots shots) const;

private:
    RTCScene scene_;
};

}  // namespace bench
