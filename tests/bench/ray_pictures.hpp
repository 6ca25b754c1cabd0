#pragma once
// The two surfaces that rays are shot at: the model's whole mesh, and the visible height surface
// that the occlusion pass takes for the subject.

#include <memory>

#include "batch/job.hpp"
#include "ray_scene.hpp"

namespace bench {

/// What our own passes say, the whole picture.
rakelight::RenderedPlanes our_planes(const rakelight::PreparedScene& scene, double reach_mm);

/// A surface and, pixel by pixel, where occlusion's rays start on it.
class Surface {
public:
    virtual ~Surface() = default;
    /// @param places  receives up to 16
    /// @return        how many
    virtual std::size_t places(int x, int y, std::array<Place, 16>& places) const = 0;
    const RayScene& rays() const { return *rays_; }

protected:
    std::unique_ptr<RayScene> rays_;
};

/// The mesh through its parallel camera, 4 x 4 samples a pixel.
class MeshSurface final : public Surface {
public:
    explicit MeshSurface(const rakelight::PreparedScene& scene);
    std::size_t places(int x, int y, std::array<Place, 16>& places) const override;

private:
    rakelight::Camera camera_;
    rakelight::ImageGrid grid_;
    std::vector<Triangle> triangles_;
    std::vector<glm::vec3> normals_;
    float top_mm_ = 0.0F;
};

/// Our own heights joined to triangles, one point a pixel; beyond the outline it drops below
/// everything within a pixel.
class HeightSurface final : public Surface {
public:
    HeightSurface(const rakelight::RenderedPlanes& planes, const rakelight::PreparedScene& scene);
    std::size_t places(int x, int y, std::array<Place, 16>& places) const override;

private:
    glm::vec3 point(int x, int y) const;
    const rakelight::RenderedPlanes& planes_;
    rakelight::ImageGrid grid_;
    glm::dvec2 picture_mm_;
    float deep_mm_;
};

}  // namespace bench
