#include "poses/facing_area.hpp"

#include <algorithm>
#include <array>
#include <span>

#include "share_work.hpp"

namespace rakelight {
namespace {

// Sums are made of runs, in the runs' order, so that threads do not change their rounding.
constexpr std::uint32_t run_triangles = 16384;

struct Run {
    std::uint32_t first;
    std::uint32_t end;
};

std::vector<Run> runs_of(const Mesh& mesh, const std::vector<bool>& used) {
    std::vector<Run> runs;
    for (std::size_t i = 0; i < used.size(); ++i) {
        if (!used[i]) continue;
        const Part& part = mesh.parts()[i];
        const std::uint32_t end = part.first_triangle + part.triangle_count;
        for (std::uint32_t first = part.first_triangle; first < end; first += run_triangles) {
            runs.push_back({first, std::min(first + run_triangles, end)});
        }
    }
    return runs;
}

using Corners = std::array<glm::dvec3, 3>;

Corners corners_of(std::span<const Vertex> vertices, std::span<const std::uint32_t> indices,
                   std::uint32_t triangle) {
    Corners corners;
    for (std::size_t i = 0; i < 3; ++i) {
        const auto& p = vertices[indices[std::size_t{3} * triangle + i]].position;
        corners[i] = {p[0], p[1], p[2]};
    }
    return corners;
}

// A triangle's signed area on the blank, positive where it faces the viewer, straight from the
// model's axes: no corner has to be turned.
class AreaOnBlank {
public:
    explicit AreaOnBlank(const Camera& camera)
        : to_viewer_(camera.view_from_model[0][2], camera.view_from_model[1][2],
                     camera.view_from_model[2][2]),
          scale_(camera.mm_per_unit),
          eye_mm_(camera.projection == Projection::perspective ? camera.eye_mm : 0.0),
          eye_model_(camera.centre_model + to_viewer_ * (eye_mm_ / scale_)) {}

    double mm2(const Corners& corners) const {
        const auto& [a, b, c] = corners;
        const glm::dvec3 twice = glm::cross(b - a, c - a);
        if (eye_mm_ <= 0.0) return 0.5 * scale_ * scale_ * glm::dot(twice, to_viewer_);
        // The pyramid from the eye over the triangle keeps its volume's share of the products of
        // distances: area on the blank = 3 V eye^2 / (w_a w_b w_c), w the distances along the axis.
        const double w = distance_mm(a) * distance_mm(b) * distance_mm(c);
        return 0.5 * eye_mm_ * eye_mm_ * scale_ * scale_ * scale_ *
               glm::dot(eye_model_ - a, twice) / w;
    }

private:
    double distance_mm(const glm::dvec3& p) const {
        return scale_ * glm::dot(to_viewer_, eye_model_ - p);
    }

    glm::dvec3 to_viewer_;
    double scale_;
    double eye_mm_;
    glm::dvec3 eye_model_;
};

// A polygon of at most seven corners: a triangle that four edges have cut.
struct Polygon {
    std::array<glm::dvec2, 8> corners;
    std::size_t count = 0;
};

// What is left where inside(p) >= 0 (Sutherland and Hodgman 1974, "Reentrant polygon clipping").
template <typename Inside>
Polygon cut(const Polygon& polygon, const Inside& inside) {
    Polygon left;
    for (std::size_t i = 0; i < polygon.count; ++i) {
        const glm::dvec2 a = polygon.corners[i];
        const glm::dvec2 b = polygon.corners[(i + 1) % polygon.count];
        const double at_a = inside(a), at_b = inside(b);
        if (at_a >= 0.0) left.corners[left.count++] = a;
        if ((at_a < 0.0) != (at_b < 0.0)) {
            left.corners[left.count++] = a + (at_a / (at_a - at_b)) * (b - a);
        }
    }
    return left;
}

double signed_area(const Polygon& polygon) {
    double twice = 0.0;
    for (std::size_t i = 2; i < polygon.count; ++i) {
        const glm::dvec2 u = polygon.corners[i - 1] - polygon.corners[0];
        const glm::dvec2 v = polygon.corners[i] - polygon.corners[0];
        twice += u.x * v.y - u.y * v.x;
    }
    return 0.5 * twice;
}

double area_in_picture_mm2(const Corners& corners, const Camera& camera, const ImageGrid& grid) {
    Polygon polygon;
    polygon.count = 3;
    for (std::size_t i = 0; i < 3; ++i) {
        polygon.corners[i] = camera.blank_mm(camera.view_mm(corners[i]));
    }
    const double right = grid.left_mm + grid.width / grid.px_per_mm;
    const double bottom = grid.top_mm - grid.height / grid.px_per_mm;
    polygon = cut(polygon, [&](glm::dvec2 p) { return p.x - grid.left_mm; });
    polygon = cut(polygon, [&](glm::dvec2 p) { return right - p.x; });
    polygon = cut(polygon, [&](glm::dvec2 p) { return p.y - bottom; });
    polygon = cut(polygon, [&](glm::dvec2 p) { return grid.top_mm - p.y; });
    return signed_area(polygon);
}

template <typename Area>
FacingArea sum_of(const Mesh& mesh, const std::vector<bool>& used, const Area& area_mm2) {
    const auto runs = runs_of(mesh, used);
    const auto vertices = mesh.vertices();
    const auto indices = mesh.indices();
    std::vector<FacingArea> sums(runs.size());
    share_work(runs.size(), machine_threads(), [&](std::size_t i) {
        FacingArea sum;
        for (std::uint32_t t = runs[i].first; t < runs[i].end; ++t) {
            const double area = area_mm2(corners_of(vertices, indices, t));
            (area > 0.0 ? sum.front_mm2 : sum.back_mm2) += area;
        }
        sums[i] = sum;
    });
    FacingArea all;
    for (const FacingArea& sum : sums) {
        all.front_mm2 += sum.front_mm2;
        all.back_mm2 -= sum.back_mm2;
    }
    return all;
}

}  // namespace

FacingArea facing_area(const Mesh& mesh, const std::vector<bool>& used, const Camera& camera,
                       const ImageGrid* frame) {
    if (frame != nullptr) {
        return sum_of(mesh, used, [&](const Corners& corners) {
            return area_in_picture_mm2(corners, camera, *frame);
        });
    }
    const AreaOnBlank area(camera);
    return sum_of(mesh, used, [&](const Corners& corners) { return area.mm2(corners); });
}

}  // namespace rakelight
