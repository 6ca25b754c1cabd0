#include "ray_pictures.hpp"

#include <algorithm>

#include "render/device_renderer.hpp"
#include "subject.hpp"

namespace bench {

using rakelight::Plane;
using rakelight::RenderedPlanes;

RenderedPlanes our_planes(const rakelight::PreparedScene& scene, double reach_mm) {
    rakelight::RenderRequest request = bare_request(scene);
    request.occlusion_reach_mm = reach_mm;
    RenderedPlanes whole;
    const auto all = {&RenderedPlanes::coverage, &RenderedPlanes::height_mm,
                      &RenderedPlanes::normal_x, &RenderedPlanes::normal_y,
                      &RenderedPlanes::normal_z, &RenderedPlanes::occlusion};
    for (const auto plane : all) whole.*plane = Plane(request.grid.width, request.grid.height);
    rakelight::DeviceRenderer renderer(rakelight::DeviceChoice::automatic);
    renderer.set_mesh(scene.mesh, scene.used);
    renderer.render(request, [&](const RenderedPlanes& rows, int first_row) {
        const auto at = static_cast<std::ptrdiff_t>(first_row) * request.grid.width;
        for (const auto plane : all) {
            const auto& values = (rows.*plane).values;
            std::copy(values.begin(), values.end(), (whole.*plane).values.begin() + at);
        }
    });
    return whole;
}

MeshSurface::MeshSurface(const rakelight::PreparedScene& scene)
    : camera_(scene.framing.camera), grid_(scene.framing.grid) {
    std::vector<glm::vec3> points;
    for (const auto& vertex : scene.mesh.vertices()) {
        const auto& p = vertex.position;
        points.emplace_back(camera_.view_mm({p[0], p[1], p[2]}));
        normals_.emplace_back(camera_.view_from_model *
                              rakelight::decode_octahedral(vertex.normal));
        top_mm_ = std::max(top_mm_, points.back().z);
    }
    const auto indices = scene.mesh.indices();
    for (std::size_t i = 0; i + 2 < indices.size(); i += 3) {
        triangles_.push_back({indices[i], indices[i + 1], indices[i + 2]});
    }
    rays_ = std::make_unique<RayScene>(points, triangles_);
}

std::size_t MeshSurface::places(int x, int y, std::array<Place, 16>& places) const {
    std::array<float, 16> x_mm, y_mm;
    for (int k = 0; k < 16; ++k) {
        const double u = x + (k % 4 + 0.5) / 4.0, v = y + (k / 4 + 0.5) / 4.0;
        const auto i = static_cast<std::size_t>(k);
        x_mm[i] = static_cast<float>(grid_.left_mm + u / grid_.px_per_mm - camera_.picture_mm.x);
        y_mm[i] = static_cast<float>(grid_.top_mm - v / grid_.px_per_mm - camera_.picture_mm.y);
    }
    RayScene::Hits hits;
    rays_->look_down(x_mm, y_mm, top_mm_ + 1.0F, hits);
    std::size_t count = 0;
    for (std::size_t i = 0; i < 16; ++i) {
        if (!hits.hit[i]) continue;
        const Triangle& t = triangles_[hits.triangle[i]];
        glm::vec3 normal = (1.0F - hits.u[i] - hits.v[i]) * normals_[t[0]] +
                           hits.u[i] * normals_[t[1]] + hits.v[i] * normals_[t[2]];
        if (normal.z < 0.0F) normal.z = 0.0F;  // what is seen does not turn away
        places[count++] = {{x_mm[i], y_mm[i], hits.z_mm[i]}, glm::normalize(normal)};
    }
    return count;
}

HeightSurface::HeightSurface(const RenderedPlanes& planes, const rakelight::PreparedScene& scene)
    : planes_(planes),
      grid_(scene.framing.grid),
      picture_mm_(scene.framing.camera.picture_mm),
      deep_mm_(static_cast<float>(scene.framing.subject.far_mm - 100.0)) {
    std::vector<glm::vec3> points;
    std::vector<Triangle> triangles;
    std::vector<std::uint32_t> index(planes.coverage.values.size(), UINT32_MAX);
    const auto corner = [&](int x, int y) {
        std::uint32_t& at = index[static_cast<std::size_t>(y) * grid_.width + x];
        if (at == UINT32_MAX) {
            at = static_cast<std::uint32_t>(points.size());
            points.push_back(point(x, y));
        }
        return at;
    };
    for (int y = 0; y + 1 < grid_.height; ++y) {
        for (int x = 0; x + 1 < grid_.width; ++x) {
            const Plane& cover = planes.coverage;
            if (cover.at(x, y) + cover.at(x + 1, y) + cover.at(x, y + 1) + cover.at(x + 1, y + 1) ==
                0.0F) {
                continue;
            }
            triangles.push_back({corner(x, y), corner(x, y + 1), corner(x + 1, y)});
            triangles.push_back({corner(x + 1, y), corner(x, y + 1), corner(x + 1, y + 1)});
        }
    }
    rays_ = std::make_unique<RayScene>(points, triangles);
}

glm::vec3 HeightSurface::point(int x, int y) const {
    const glm::dvec2 at = grid_.centre_of(x, y) - picture_mm_;
    const float z = planes_.coverage.at(x, y) > 0.0F ? planes_.height_mm.at(x, y) : deep_mm_;
    return {static_cast<float>(at.x), static_cast<float>(at.y), z};
}

std::size_t HeightSurface::places(int x, int y, std::array<Place, 16>& places) const {
    if (planes_.coverage.at(x, y) == 0.0F) return 0;
    places[0] = {point(x, y),
                 glm::normalize(glm::vec3(planes_.normal_x.at(x, y), planes_.normal_y.at(x, y),
                                          planes_.normal_z.at(x, y)))};
    return 1;
}

}  // namespace bench
