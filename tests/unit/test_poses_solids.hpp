#pragma once
// Shapes with known figures, and scenes to put them in; lengths in mm on the blank.

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>

#include "framing/blank_masks.hpp"
#include "poses/pose_meter.hpp"
#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"

namespace batch_test {

using namespace rakelight;
using render_test::add_quad;
using render_test::Point;
using render_test::Triangles;

inline constexpr double pi = std::numbers::pi;

/// A grid of quads over (u, v) in the unit square, facing where u to v turns counter-clockwise.
inline Triangles patch(int columns, int rows, const std::function<Point(double, double)>& at) {
    Triangles made;
    for (int j = 0; j < rows; ++j)
        for (int i = 0; i < columns; ++i) {
            const auto corner = [&](int a, int b) {
                return at((i + a) / double(columns), (j + b) / double(rows));
            };
            add_quad(made, corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1));
        }
    return made;
}

/// `half` steps from pole to pole, twice as many around.
inline Triangles sphere(double radius, int half = 96) {
    return patch(2 * half, half, [=](double u, double v) -> Point {
        const double around = 2.0 * pi * u, up = pi * (v - 0.5);
        return {radius * std::cos(up) * std::sin(around), radius * std::sin(up),
                radius * std::cos(up) * std::cos(around)};
    });
}

/// A rectangle that faces +z, its middle at (x, y, z).
inline Triangles plate(double width, double height, Point middle = {0, 0, 0}) {
    return patch(1, 1, [=](double u, double v) -> Point {
        return {middle[0] + width * (u - 0.5), middle[1] + height * (v - 0.5), middle[2]};
    });
}

inline Triangles box(double width, double height, double depth, Point middle = {0, 0, 0}) {
    const double x = 0.5 * width, y = 0.5 * height, z = 0.5 * depth;
    const auto at = [&](double a, double b, double c) -> Point {
        return {middle[0] + a * x, middle[1] + b * y, middle[2] + c * z};
    };
    Triangles made;
    for (const double s : {1.0, -1.0}) {
        add_quad(made, at(-s, -1, s), at(s, -1, s), at(s, 1, s), at(-s, 1, s));
        add_quad(made, at(s, -1, s), at(s, -1, -s), at(s, 1, -s), at(s, 1, s));
        add_quad(made, at(-1, s, s), at(1, s, s), at(1, s, -s), at(-1, s, -s));
    }
    return made;
}

inline Triangles both(Triangles a, const Triangles& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

/// Each corner replaced.
inline Triangles mapped(Triangles shape, const std::function<Point(Point)>& map) {
    for (auto& triangle : shape)
        for (auto& corner : triangle) corner = map(corner);
    return shape;
}

/// The same seen from behind: every triangle wound the other way.
inline Triangles reversed(Triangles shape) {
    for (auto& triangle : shape) std::swap(triangle[1], triangle[2]);
    return shape;
}

/// A model's unit is a millimetre; 15 px/mm, a square blank of 40 mm without a rim.
inline Scene scene_at_size() {
    Scene scene;
    scene.blank.shape = BlankShape::rectangle;
    scene.blank.width_mm = scene.blank.height_mm = 40.0;
    scene.model.up = Axis::plus_y;
    scene.framing.fit = Fit::none;
    scene.framing.mm_per_unit = 1.0;
    scene.image.px_per_mm = 15.0;
    return scene;
}

/// The eye as far as a blank of 40 mm wants it.
inline double eye_mm(double view_deg) {
    return 20.0 / std::tan(0.5 * view_deg * pi / 180.0);
}

inline void look_in_perspective(Scene& scene, double view_deg) {
    scene.pose.projection = Projection::perspective;
    scene.pose.view_deg = view_deg;
}

inline PoseFigures figures_of(const Scene& scene, const Mesh& mesh,
                              std::int64_t strip_px = std::int64_t{1} << 19) {
    const auto used = render_test::all_parts(mesh);
    const Framing framing = frame(scene, mesh, used);
    const BlankGeometry blank(scene.blank);
    RenderRequest request;
    request.camera = framing.camera;
    request.grid = framing.grid;
    request.samples = scene.image.samples;
    ask_for_figures(request, scene, blank);
    PoseMeter meter(scene, FacingSurface(mesh, used), framing);
    ProcessorRenderer renderer(strip_px);
    renderer.set_mesh(mesh, used);
    renderer.render(request, [&](const RenderedPlanes& planes, int first_row) {
        const auto masks = blank_masks(blank, framing.grid, first_row, planes.coverage.height);
        meter.add({planes, masks, first_row});
    });
    return meter.figures();
}

inline PoseFigures figures_of(const Scene& scene, const Triangles& shape) {
    return figures_of(scene, render_test::load_triangles(shape));
}

}  // namespace batch_test
