#pragma once
// Meshes for the renderers' tests, and how their planes are compared.

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <numbers>
#include <string>
#include <vector>

#include "error.hpp"
#include "model/load.hpp"
#include "render/context.hpp"
#include "render/processor_renderer.hpp"
#include "render/renderer.hpp"

namespace render_test {

using rakelight::LoadOptions;
using rakelight::Mesh;
using rakelight::Plane;
using rakelight::Projection;
using rakelight::RenderedPlanes;
using rakelight::Renderer;
using rakelight::RenderRequest;

/// Writes a model with `write` into a folder of its own and imports it.
template <typename Write>
Mesh load_written(const Write& write) {
    std::string folder_name = std::filesystem::temp_directory_path() / "rakelight-render-XXXXXX";
    REQUIRE(mkdtemp(folder_name.data()) != nullptr);
    const std::filesystem::path folder = folder_name;
    write(folder / "model.ply");
    LoadOptions options;
    options.cache.use = false;
    Mesh mesh = rakelight::load_model(folder / "model.ply", options);
    std::filesystem::remove_all(folder);
    return mesh;
}

inline constexpr int rings = 96;

/// A bumpy ball of radius 5 with a shelf around its middle, as a PLY file.
inline void write_ball(const std::filesystem::path& file) {
    std::ofstream out(file);
    out << "ply\nformat ascii 1.0\nelement vertex " << (rings + 1) * 2 * rings
        << "\nproperty float x\nproperty float y\nproperty float z\nelement face "
        << rings * 2 * rings << "\nproperty list uchar int vertex_indices\nend_header\n";
    for (int j = 0; j <= rings; ++j) {
        const double down = std::numbers::pi * (j + 0.01) / (rings + 0.02);
        for (int i = 0; i < 2 * rings; ++i) {
            const double around = std::numbers::pi * i / rings;
            const double shelf = std::fabs(down - 1.3) < 0.12 ? 0.7 : 0.0;
            const double r = 5.0 + shelf + 0.25 * std::sin(9 * around) * std::sin(7 * down);
            out << r * std::sin(down) * std::cos(around) << ' ' << r * std::cos(down) << ' '
                << r * std::sin(down) * std::sin(around) << '\n';
        }
    }
    for (int j = 0; j < rings; ++j) {
        for (int i = 0; i < 2 * rings; ++i) {
            const int next = (i + 1) % (2 * rings);
            out << "4 " << j * 2 * rings + i << ' ' << j * 2 * rings + next << ' '
                << (j + 1) * 2 * rings + next << ' ' << (j + 1) * 2 * rings + i << '\n';
        }
    }
}

inline Mesh load_ball() {
    return load_written(write_ball);
}

using Point = std::array<double, 3>;
using Corners = std::array<Point, 3>;
using Triangles = std::vector<Corners>;

/// Two triangles with the corners in their order: counter-clockwise as seen, they face the viewer.
inline void add_quad(Triangles& to, Point a, Point b, Point c, Point d) {
    to.push_back({a, b, c});
    to.push_back({a, c, d});
}

/// Triangles by their corners, as a PLY file.
inline Mesh load_triangles(const Triangles& triangles) {
    return load_written([&](const std::filesystem::path& file) {
        std::ofstream out(file);
        out.precision(9);
        out << "ply\nformat ascii 1.0\nelement vertex " << 3 * triangles.size()
            << "\nproperty float x\nproperty float y\nproperty float z\nelement face "
            << triangles.size() << "\nproperty list uchar int vertex_indices\nend_header\n";
        for (const auto& triangle : triangles) {
            for (const auto& p : triangle) out << p[0] << ' ' << p[1] << ' ' << p[2] << '\n';
        }
        for (std::size_t i = 0; i < triangles.size(); ++i) {
            out << "3 " << 3 * i << ' ' << 3 * i + 1 << ' ' << 3 * i + 2 << '\n';
        }
    });
}

inline std::vector<bool> all_parts(const Mesh& mesh) {
    return std::vector<bool>(mesh.parts().size(), true);
}

/// All rows of a picture in one.
inline RenderedPlanes whole(Renderer& renderer, const RenderRequest& request) {
    RenderedPlanes all;
    int next = 0;
    const auto append = [](Plane& to, const Plane& from) {
        to.width = from.width;
        to.height += from.height;
        to.values.insert(to.values.end(), from.values.begin(), from.values.end());
    };
    renderer.render(request, [&](const RenderedPlanes& rows, int first_row) {
        REQUIRE(first_row == next);
        next += rows.coverage.height;
        append(all.coverage, rows.coverage);
        append(all.height_mm, rows.height_mm);
        append(all.normal_x, rows.normal_x);
        append(all.normal_y, rows.normal_y);
        append(all.normal_z, rows.normal_z);
        append(all.occlusion, rows.occlusion);
        append(all.curvature, rows.curvature);
        append(all.contour, rows.contour);
        all.masks.resize(rows.masks.size());
        for (std::size_t i = 0; i < rows.masks.size(); ++i) append(all.masks[i], rows.masks[i]);
        all.mask_heights_mm.resize(rows.mask_heights_mm.size());
        for (std::size_t i = 0; i < rows.mask_heights_mm.size(); ++i) {
            append(all.mask_heights_mm[i], rows.mask_heights_mm[i]);
        }
        all.part_numbers.insert(all.part_numbers.end(), rows.part_numbers.begin(),
                                rows.part_numbers.end());
        RenderedPlanes own = rows;
        for (std::size_t i = 0; i < own.undercut.all().size(); ++i) {
            append(*all.undercut.all()[i], *own.undercut.all()[i]);
        }
        for (std::size_t i = 0; i < own.steep.all().size(); ++i) {
            append(*all.steep.all()[i], *own.steep.all()[i]);
        }
    });
    REQUIRE(next == request.grid.height);
    return all;
}

inline double largest_difference(const Plane& a, const Plane& b) {
    REQUIRE(a.values.size() == b.values.size());
    double largest = 0.0;
    for (std::size_t i = 0; i < a.values.size(); ++i) {
        largest = std::max(largest, std::fabs(double{a.values[i]} - b.values[i]));
    }
    return largest;
}

inline double spread(const Plane& plane) {
    const auto [low, high] = std::minmax_element(plane.values.begin(), plane.values.end());
    return *high - *low;
}

/// The share of covered pixels where the planes differ by more than `most`.
inline double differing(const RenderedPlanes& a, const RenderedPlanes& b, const Plane& x,
                        const Plane& y, double most) {
    std::size_t count = 0;
    std::size_t covered = 0;
    for (std::size_t i = 0; i < x.values.size(); ++i) {
        if (a.coverage.values[i] <= 0.0F || b.coverage.values[i] <= 0.0F) continue;
        ++covered;
        count += std::fabs(double{x.values[i]} - y.values[i]) > most ? 1 : 0;
    }
    REQUIRE(covered > 5000);
    return static_cast<double>(count) / static_cast<double>(covered);
}

/// Of the ball, cut by the picture's edges.
inline RenderRequest request_of(Projection projection) {
    RenderRequest request;
    request.grid = {220, 180, 20.0, -5.5, 4.5};  // cuts the ball
    request.camera.projection = projection;
    request.camera.eye_mm = 40.0;
    request.camera.picture_mm = {0.3, -0.2};
    request.occlusion_reach_mm = 1.6;
    request.curvature_scale_mm = 0.2;
    return request;
}

/// A context of any kind, or none, with a message.
/// @param with_compute  it must have compute shaders
inline std::unique_ptr<rakelight::GraphicsContext> context_or_skip(bool with_compute) {
    std::unique_ptr<rakelight::GraphicsContext> context;
    try {
        context = rakelight::open_context(rakelight::ContextChoice::automatic);
    } catch (const rakelight::Error& refusal) {
        MESSAGE("skipped: " << refusal.what());
        return nullptr;
    }
    if (with_compute && !context->facts().compute) {
        MESSAGE("skipped: no compute shaders in OpenGL " << context->facts().gl_version);
        return nullptr;
    }
    return context;
}

/// What the processor renders of triangles.
inline RenderedPlanes render_of(const Triangles& triangles, const RenderRequest& request) {
    const Mesh mesh = load_triangles(triangles);
    rakelight::ProcessorRenderer renderer;
    renderer.set_mesh(mesh, all_parts(mesh));
    return whole(renderer, request);
}

inline double sum(const Plane& plane) {
    double total = 0.0;
    for (const float value : plane.values) total += value;
    return total;
}

}  // namespace render_test
