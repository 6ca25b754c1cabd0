#include "poses/facing_area.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "share_work.hpp"

namespace rakelight {
namespace {

constexpr std::uint32_t run_triangles = 32;
/// Sums are made of so many runs, in their order, so that threads do not change their rounding.
constexpr std::size_t shared_runs = 512;

using Corners = std::array<glm::dvec3, 3>;

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

    const glm::dvec3& to_viewer() const { return to_viewer_; }

    /// In parallel projection.
    /// @param area_units2  a sum of areas times their normals
    double mm2(const glm::dvec3& area_units2) const {
        return scale_ * scale_ * glm::dot(area_units2, to_viewer_);
    }

    double mm2(const Corners& corners) const {
        const auto& [a, b, c] = corners;
        const glm::dvec3 twice = glm::cross(b - a, c - a);
        if (eye_mm_ <= 0.0) return mm2(0.5 * twice);
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

enum class Lies { inside, across, outside };

// In parallel projection, by the sphere around the box.
Lies lies_in(const Bounds& bounds, const Camera& camera, const ImageGrid& grid) {
    const glm::dvec2 centre = camera.blank_mm(camera.view_mm(bounds.centre()));
    const double radius = 0.5 * camera.mm_per_unit * glm::length(bounds.size()) * (1.0 + 1e-9);
    const double right = grid.left_mm + grid.width / grid.px_per_mm;
    const double bottom = grid.top_mm - grid.height / grid.px_per_mm;
    const double within = std::min(
        {centre.x - grid.left_mm, right - centre.x, centre.y - bottom, grid.top_mm - centre.y});
    return within >= radius ? Lies::inside : within <= -radius ? Lies::outside : Lies::across;
}

void add(double mm2, FacingArea& sum) {
    (mm2 > 0.0 ? sum.front_mm2 : sum.back_mm2) += std::abs(mm2);
}

}  // namespace

FacingSurface::FacingSurface(Mesh mesh, std::vector<bool> used)
    : mesh_(std::move(mesh)), used_(std::move(used)) {
    for (std::size_t i = 0; i < used_.size(); ++i) {
        if (!used_[i]) continue;
        const std::uint32_t end = mesh_.parts()[i].triangle_count;
        for (std::uint32_t first = 0; first < end; first += run_triangles)
            runs_.push_back({static_cast<std::uint32_t>(i),
                             first,
                             std::min(first + run_triangles, end),
                             {},
                             {},
                             2.0,
                             {}});
    }
    share_work((runs_.size() + shared_runs - 1) / shared_runs, machine_threads(),
               [&](std::size_t block) {
                   const std::size_t end = std::min((block + 1) * shared_runs, runs_.size());
                   for (std::size_t i = block * shared_runs; i < end; ++i) measure(runs_[i]);
               });
}

void FacingSurface::measure(Run& run) const {
    constexpr double far = std::numeric_limits<double>::max();
    run.bounds = {glm::dvec3(far), glm::dvec3(-far)};
    const PartSurface surface = mesh_.surface(run.part);
    std::array<glm::dvec3, run_triangles> normals;
    std::size_t count = 0;
    for (std::uint32_t t = run.first; t < run.end; ++t) {
        const auto [a, b, c] = surface.corners(t);
        const glm::dvec3 area = 0.5 * glm::cross(b - a, c - a);
        run.bounds.low = glm::min(run.bounds.low, glm::min(a, glm::min(b, c)));
        run.bounds.high = glm::max(run.bounds.high, glm::max(a, glm::max(b, c)));
        const double length = glm::length(area);
        run.area_units2 += area;
        if (length > 0.0) normals[count++] = area / length;
    }
    glm::dvec3 sum(0.0);
    for (std::size_t i = 0; i < count; ++i) sum += normals[i];
    if (glm::length(sum) == 0.0) return;
    run.axis = glm::normalize(sum);
    double cosine = 1.0;
    for (std::size_t i = 0; i < count; ++i)
        cosine = std::min(cosine, glm::dot(normals[i], run.axis));
    // A little is added for rounding.
    if (cosine > 0.0) run.sine = std::sqrt(std::max(0.0, 1.0 - cosine * cosine)) + 1e-7;
}

template <typename AddRun>
FacingArea FacingSurface::summed(const AddRun& add_run) const {
    std::vector<FacingArea> sums((runs_.size() + shared_runs - 1) / shared_runs);
    share_work(sums.size(), machine_threads(), [&](std::size_t block) {
        const std::size_t end = std::min((block + 1) * shared_runs, runs_.size());
        for (std::size_t i = block * shared_runs; i < end; ++i) add_run(runs_[i], sums[block]);
    });
    FacingArea all;
    for (const FacingArea& sum : sums) {
        all.front_mm2 += sum.front_mm2;
        all.back_mm2 += sum.back_mm2;
    }
    return all;
}

template <typename Area>
void FacingSurface::add_triangles(const Run& run, const Area& area_mm2, FacingArea& sum) const {
    const PartSurface surface = mesh_.surface(run.part);
    for (std::uint32_t t = run.first; t < run.end; ++t) add(area_mm2(surface.corners(t)), sum);
}

FacingArea FacingSurface::area(const Camera& camera, const ImageGrid* frame) const {
    const AreaOnBlank on_blank(camera);
    const auto of_triangle = [&](const Corners& corners) { return on_blank.mm2(corners); };
    const auto in_picture = [&](const Corners& corners) {
        return area_in_picture_mm2(corners, camera, *frame);
    };
    if (camera.projection == Projection::perspective) {
        return summed([&](const Run& run, FacingArea& sum) {
            frame == nullptr ? add_triangles(run, of_triangle, sum)
                             : add_triangles(run, in_picture, sum);
        });
    }
    return summed([&](const Run& run, FacingArea& sum) {
        const Lies lies = frame == nullptr ? Lies::inside : lies_in(run.bounds, camera, *frame);
        if (lies == Lies::outside) return;
        if (lies == Lies::across) return add_triangles(run, in_picture, sum);
        const bool one_way = std::abs(glm::dot(run.axis, on_blank.to_viewer())) > run.sine;
        one_way ? add(on_blank.mm2(run.area_units2), sum) : add_triangles(run, of_triangle, sum);
    });
}

bool FacingSurface::has_cut_outs() const {
    for (std::size_t i = 0; i < used_.size(); ++i) {
        const std::uint32_t detail = mesh_.parts()[i].detail;
        if (used_[i] && detail != no_detail && mesh_.details()[detail].mask) return true;
    }
    return false;
}

}  // namespace rakelight
