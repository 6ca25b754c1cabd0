// Surface detail at the samples of a tile: bumps as J. F. Blinn 1978, "Simulation of Wrinkled
// Surfaces", with the surface gradient of M. S. Mikkelsen 2010, "Bump Mapping Unparametrized
// Surfaces on the GPU"; normal maps by the frame of glTF 2.0, 3.9.3.

#include <algorithm>
#include <cmath>

#include "render/tile_samples.hpp"

namespace rakelight {
namespace {

/// What leans farther away than this from the viewer is moved no farther by its heights.
constexpr double least_facing = 0.25;

struct Sample {
    TexturePlace place;
    glm::dvec3 tangent;
};

// Of what is divided by the distance, so that it is linear over the picture; `w` is the same of 1.
Sample sample_of(const DetailShade& d, double x, double y) {
    const double dx = x - d.at_x, dy = y - d.at_y;
    const auto value = [&](const LinearValue& v) { return v.at + v.per_x * dx + v.per_y * dy; };
    const double per = 1.0 / value(d.w);
    const glm::dvec2 at(value(d.s) * per, value(d.t) * per);
    return {{at,
             {(d.s.per_x - at.x * d.w.per_x) * per, (d.t.per_x - at.y * d.w.per_x) * per},
             {(d.s.per_y - at.x * d.w.per_y) * per, (d.t.per_y - at.y * d.w.per_y) * per}},
            {value(d.tangent[0]), value(d.tangent[1]), value(d.tangent[2])}};
}

// Turned by the slopes of the detail, of any length.
// @param normal  unit
glm::dvec3 turned(const DetailShade& d, const Sample& sample, glm::dvec3 normal, glm::vec2 slope) {
    const DetailMaterial& material = *d.material;
    // A face seen from behind shows its heights as depths.
    const double factor = d.turn * material.slope_factor;
    if (!material.from_normals)
        return normal - factor * (double{slope.x} * d.per_mm_s + double{slope.y} * d.per_mm_t);
    glm::dvec3 along = sample.tangent - glm::dot(sample.tangent, normal) * normal;
    const double length = glm::length(along);
    if (length < 1e-9) return normal;
    along /= length;
    const glm::dvec3 across = (d.side * d.turn) * glm::cross(normal, along);
    return normal - factor * (double{slope.x} * along + double{slope.y} * across);
}

glm::dvec3 facing(glm::dvec3 normal, glm::dvec3 to_eye) {
    const double away = glm::dot(normal, to_eye);
    if (away < 0.0) normal -= away / glm::dot(to_eye, to_eye) * to_eye;
    const double length = glm::length(normal);
    return length > 1e-12 ? normal / length : glm::normalize(to_eye);
}

}  // namespace

bool is_cut_out(const DetailShade& d, double x, double y) {
    return d.material->mask->at(sample_of(d, x, y).place).x < d.material->cut_off;
}

DetailSums detail_at(const Shade& shade, const DetailShade& d, double x, double y,
                     glm::dvec2 lean) {
    const Sample sample = sample_of(d, x, y);
    const double dx = x - double{shade.at_x}, dy = y - double{shade.at_y};
    glm::dvec3 normal;
    for (int k = 0; k < 3; ++k)
        normal[k] = shade.normal[k] + shade.per_x[k] * dx + shade.per_y[k] * dy;
    const glm::dvec3 to_eye(-lean.x, -lean.y, 1.0);
    normal = facing(normal, to_eye);
    DetailSums sums{normal, 0.0};
    const DetailMaterial& material = *d.material;
    if (material.slopes)
        sums.normal = facing(turned(d, sample, normal, material.slopes->at(sample.place)), to_eye);
    if (material.heights) {
        const double size = glm::length(to_eye);
        const double toward = std::max(glm::dot(normal, to_eye) / size, least_facing);
        sums.shift_mm = d.turn * material.height_factor * material.heights->at(sample.place).x /
                        (toward * size);
    }
    return sums;
}

DetailShade detail_of(const SampleMesh& mesh, const std::array<const SampleVertex*, 3>& corners,
                      TriangleRef ref, const DetailMaterial& material) {
    const Mesh& from = mesh.detail()->mesh();
    const std::uint32_t part = mesh.part(ref);
    const PartSurface surface = from.surface(part);
    const std::size_t triangle = mesh.triangle(ref) - from.parts()[part].first_triangle;
    const std::uint32_t* index = &surface.indices()[3 * triangle];
    const std::array<glm::dvec3, 3> at = surface.corners(triangle);
    std::array<glm::dvec2, 3> place;
    for (std::size_t k = 0; k < 3; ++k) {
        const auto& q = from.detail_vertices()[index[k]].place;
        place[k] = {q[0], q[1]};
    }
    DetailShade d;
    d.material = &material;
    d.side = from.detail_vertices()[index[0]].side < 0 ? -1.0 : 1.0;
    const glm::dvec3 b = at[1] - at[0], c = at[2] - at[0], n = glm::cross(b, c);
    const glm::dvec3 by_b = glm::cross(c, n), by_c = glm::cross(n, b);
    const double per = 1.0 / (glm::dot(n, n) * mesh.camera().mm_per_unit);
    const glm::dvec2 pb = place[1] - place[0], pc = place[2] - place[0];
    d.per_mm_s = mesh.camera().view_from_model * ((by_b * pb.x + by_c * pc.x) * per);
    d.per_mm_t = mesh.camera().view_from_model * ((by_b * pb.y + by_c * pc.y) * per);
    for (std::size_t k = 0; k < 3; ++k) d.corners[k] = &mesh.detail_corner(corners[k]);
    return d;
}

}  // namespace rakelight
