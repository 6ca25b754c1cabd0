#pragma once
// Surfaces given by formulas, as the maps that the passes read.

#include <functional>
#include <optional>
#include <vector>

#include "render/work_area.hpp"

namespace render_test {

/// What a pixel's centre shows, in view space.
struct Spot {
    double z_mm = 0.0;
    glm::dvec3 normal{0.0, 0.0, 1.0};
};

/// From a place on the blank, mm from the view axis, to what is seen there; nothing: background.
using Surface = std::function<std::optional<Spot>(glm::dvec2 blank_mm)>;

struct Maps {
    rakelight::Camera camera;
    rakelight::ImageGrid grid;
    rakelight::WorkArea area;
    std::vector<float> lift;
    std::vector<float> normal_coverage;
    std::vector<float> lift_range;

    rakelight::SurfaceMaps surface() const {
        rakelight::SurfaceMaps maps;
        maps.lift_mm = lift.data();
        maps.normal_coverage = normal_coverage.data();
        maps.lift_range_mm = lift_range.data();
        maps.width = grid.width;
        maps.height = grid.height;
        return maps;
    }
    /// Of the pixel whose centre lies `right` and `down` of the middle, px.
    std::size_t at(int right, int down) const {
        return static_cast<std::size_t>(grid.height / 2 + down) * grid.width + grid.width / 2 +
               right;
    }
};

struct Picture {
    int width = 0;  ///< px, odd: the middle pixel's centre is the view axis
    int height = 0;
    double px_per_mm = 1.0;
    double floor_mm = 0.0;
    double eye_mm = 0.0;  ///< 0: parallel
};

/// With one pixel of background all around, as the raster leaves it.
inline Maps draw(const Picture& picture, const Surface& surface) {
    Maps maps;
    const double px = picture.px_per_mm;
    maps.grid = {picture.width, picture.height, px, -0.5 * picture.width / px,
                 0.5 * picture.height / px};
    maps.area.rect = {0, 0, picture.width, picture.height};
    maps.area.floor_mm = picture.floor_mm;
    if (picture.eye_mm > 0.0) {
        maps.camera.projection = rakelight::Projection::perspective;
        maps.camera.eye_mm = picture.eye_mm;
    }
    for (int y = 0; y < picture.height; ++y) {
        for (int x = 0; x < picture.width; ++x) {
            const bool border =
                x == 0 || y == 0 || x == picture.width - 1 || y == picture.height - 1;
            const auto spot = border ? std::nullopt : surface(maps.grid.centre_of(x, y));
            const Spot seen = spot.value_or(Spot{picture.floor_mm});
            const auto lift = static_cast<float>(seen.z_mm - picture.floor_mm);
            maps.lift.push_back(lift);
            maps.lift_range.insert(maps.lift_range.end(), {lift, lift});
            for (int i = 0; i < 3; ++i) {
                maps.normal_coverage.push_back(static_cast<float>(seen.normal[i]));
            }
            maps.normal_coverage.push_back(spot ? 1.0F : 0.0F);
        }
    }
    return maps;
}

/// Where the view ray through a place on the blank first meets z = height(x, y), for a height that
/// it meets once: the parallel ray at once, the one from the eye by bisection of [low, high].
inline glm::dvec3 meet(glm::dvec2 blank_mm, double eye_mm, double low, double high,
                       const std::function<double(double, double)>& height) {
    if (eye_mm <= 0.0) return {blank_mm, height(blank_mm.x, blank_mm.y)};
    const auto on_ray = [&](double z) { return glm::dvec3(blank_mm * (1.0 - z / eye_mm), z); };
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        const glm::dvec3 point = on_ray(middle);
        (height(point.x, point.y) < middle ? high : low) = middle;
    }
    return on_ray(0.5 * (low + high));
}

}  // namespace render_test
