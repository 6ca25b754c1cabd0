#pragma once
// What the camera of a manifest sees of a mesh: traced at the sample positions of docs/passes.md.

#include <cmath>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "model/mesh.hpp"
#include "pictures.hpp"
#include "tracer.hpp"

namespace reference {

/// A mesh in view space, mm.
struct ViewMesh {
    std::vector<glm::dvec3> points;
    std::vector<glm::dvec3> normals;  ///< of the points, unit
    std::vector<Triangle> triangles;
    std::vector<std::uint32_t> parts;  ///< of the triangles
    std::vector<std::string> part_names;

    ViewMesh(const rakelight::Mesh& mesh, const cli_test::ManifestCamera& camera);

private:
    void add_part(const rakelight::Mesh& mesh, std::uint32_t part, const glm::dmat4& view);
};

/// Where a line of sight first meets the mesh.
struct Sample {
    static constexpr std::uint32_t nothing = 0xFFFFFFFFU;
    glm::dvec3 at{0.0};         ///< view space, mm
    glm::vec3 normal{0.0F};     ///< interpolated over the triangle, turned to the viewer, unit
    glm::vec3 to_viewer{0.0F};  ///< unit
    float slope = 0.0F;         ///< of the triangle against the line of sight: tan of its tilt
    std::uint32_t part = nothing;
    bool hit() const { return part != nothing; }
};

/// Where a line of sight crosses a triangle.
struct Crossed {
    double z_mm = 0.0;  ///< view space
    double slope = 0.0;
    bool front = false;  ///< by its winding, counter-clockwise to the viewer
};

class MeshTracer {
public:
    MeshTracer(const ViewMesh& mesh, const cli_test::ManifestCamera& camera);
    /// @param u,v  pixels, whole numbers at pixel corners
    Sample look(double u, double v) const;
    /// The next surface along that line of sight, whichever way it faces: view space's z, mm.
    /// @param z_mm  of the surface before it
    std::optional<double> next_below(double u, double v, double z_mm) const;
    /// All that it crosses, the nearest first.
    std::vector<Crossed> through(double u, double v) const;
    /// The pixels that the mesh can be seen in: corners of a rectangle, the second one beyond it.
    struct PixelBox {
        glm::ivec2 first, end;
    };
    PixelBox box(int width, int height) const;
    bool blocked(glm::dvec3 from, glm::dvec3 direction, double reach_mm) const {
        return tracer_.blocked(from, direction, reach_mm);
    }

private:
    const ViewMesh& mesh_;
    const cli_test::ManifestCamera& camera_;
    Tracer tracer_;
    double top_mm_;
};

/// All samples of a picture, rows from the top.
struct SampleGrid {
    int width = 0, height = 0;  ///< px
    int per_axis = 4;           ///< samples a pixel along each axis
    double px_per_mm = 1.0;
    MeshTracer::PixelBox box{};  ///< samples are kept for these pixels; all others show nothing
    std::vector<Sample> samples;

    int columns() const { return width * per_axis; }
    int rows() const { return height * per_axis; }
    const Sample& at(int column, int row) const {
        static const Sample none;
        const int i = column - box.first.x * per_axis, j = row - box.first.y * per_axis;
        const int across = (box.end.x - box.first.x) * per_axis;
        if (i < 0 || j < 0 || i >= across || row >= box.end.y * per_axis) return none;
        return samples[static_cast<std::size_t>(j) * across + i];
    }
};
/// @param shift_px  moves what is looked at to the right
SampleGrid trace_samples(const MeshTracer& tracer, int width, int height, double px_per_mm,
                         int per_axis, double shift_px = 0.0);

/// What the samples say of a pixel.
struct TracedPixel {
    int covered = 0;     ///< samples
    double z_mm = 0.0;   ///< mean of view space's z over the covered samples
    double slope = 0.0;  ///< largest
    bool step = false;   ///< between its samples, or to those of its neighbours, lies a depth step
    std::uint32_t part = Sample::nothing;  ///< of all its samples; nothing: several, or uncovered
};
struct TracedPicture {
    int width = 0, height = 0;
    int samples = 16;  ///< a pixel
    std::vector<TracedPixel> pixels;
    const TracedPixel& at(int x, int y) const {
        return pixels[static_cast<std::size_t>(y) * width + x];
    }
    /// Away from edges: it and its eight neighbours are wholly covered and without a step.
    bool inner(int x, int y) const;
    /// The same, and all nine show one part.
    bool inner_of_part(int x, int y) const;
};
TracedPicture picture_of(const SampleGrid& grid);

/// The area that the subject covers, px: by 64 samples a pixel wherever an outline is near.
double traced_area_px(const MeshTracer& tracer, const TracedPicture& picture);

}  // namespace reference
