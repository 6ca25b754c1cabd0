#pragma once
// From a mesh and a camera to planes of physical values, some rows at a time.

#include <array>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "framing/camera.hpp"
#include "image/plane.hpp"
#include "model/mesh.hpp"
#include "render/graphics_facts.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// What to render besides coverage, height and normal, which are always there.
struct RenderRequest {
    Camera camera;
    ImageGrid grid;
    int samples = 4;  ///< per axis
    std::optional<double> occlusion_reach_mm;
    std::optional<double> curvature_scale_mm;
    std::optional<double> contour_step_mm;
    TextureSettings texture;
    std::vector<std::uint32_t> mask_parts;  ///< part numbers, one mask each
    bool mask_heights = false;              ///< the height of each of these parts too
    bool part_numbers = false;              ///< which part each pixel shows
    /// Measure what lies behind the first surface; gaps thinner than this are none.
    std::optional<double> undercut_least_mm;
    /// Find where the relief is steeper than this: mm of depth for a mm of the picture.
    std::optional<double> steep_slope;
};

/// Whether the request has what OpenGL's renderer does not draw: all that needs more of a line of
/// sight than its first surface.
inline bool only_processor_draws(const RenderRequest& request) {
    return request.undercut_least_mm || request.steep_slope || request.mask_heights ||
           request.part_numbers;
}

/// What lies behind the first surface on the lines of sight of each pixel's samples; docs/passes.md
/// says what counts as a surface, as solid and as empty.
/// @tparam Values  one float a pixel
template <typename Values>
struct Undercut {
    Values empty_mm;   ///< mean over the covered samples: empty space before the last surface
    Values hidden;     ///< share of the pixel's area that has something hidden
    Values layers;     ///< surfaces that are hidden, by the area of the pixel they lie behind
    Values behind_mm;  ///< most, over the samples, from the first surface to the last
    Values empty_mm3;  ///< volume of the empty space, view space
    Values backs;      ///< share of the pixel's area whose first surface shows its back

    std::array<Values*, 6> all() {
        return {&empty_mm, &hidden, &layers, &behind_mm, &empty_mm3, &backs};
    }
};

/// Where the relief is steep; docs/passes.md says what counts as a step.
/// @tparam Values  one float a pixel
template <typename Values>
struct Steep {
    Values share;    ///< of the pixel's area that is a steep wall or lies along a step
    Values walls;    ///< of the pixel's area that is a steep wall
    Values slope;    ///< largest of its covered samples' surfaces, mm of depth for a mm
    Values step_mm;  ///< highest step between its covered samples and those around them

    std::array<Values*, 4> all() { return {&share, &walls, &slope, &step_mm}; }
};

/// All planes have the grid's size. Where coverage is 0 the others hold their background: height 0,
/// normal (0, 0, 1), occlusion 1, curvature 0, contour by its own rule, masks 0.
struct RenderedPlanes {
    Plane coverage;   ///< share of the pixel's area, samples * samples levels
    Plane height_mm;  ///< toward the viewer, from the plane through the subject's centre:
                      ///< the depth pass's z is its negative
    Plane normal_x;   ///< view space, unit
    Plane normal_y;
    Plane normal_z;
    Plane occlusion;  ///< open share, 0..1; empty when not asked for
    Plane curvature;  ///< mean curvature, 1/mm; empty when not asked for
    Plane contour;    ///< 0..1; empty when not asked for
    std::vector<Plane> masks;
    std::vector<Plane> mask_heights_mm;       ///< of the part's own samples alone; as the masks
    std::vector<std::uint32_t> part_numbers;  ///< one a pixel: of its first covered sample, plus
                                              ///< one; 0: nothing; empty when not asked for
    Undercut<Plane> undercut;                 ///< 0 where nothing is; empty when not asked for
    Steep<Plane> steep;                       ///< the same
};

/// Seconds of each step. Taking them costs a wait for the GPU after each, so it is done on demand.
struct RenderTimes {
    double raster_s = 0.0;
    double occlusion_s = 0.0;
    double curvature_s = 0.0;
    double read_back_s = 0.0;
    /// The same by the GPU's own clock, and finer, in the order of work.
    std::vector<std::pair<std::string, double>> gpu_s;
};

/// Takes rows [first_row, first_row + planes.coverage.height) of a picture, all planes of that
/// height. Rows come in order from the top, each once, until the picture is complete.
using RowSink = std::function<void(const RenderedPlanes& rows, int first_row)>;

/// Keeps a mesh and renders it as often as asked.
class Renderer {
public:
    Renderer() = default;
    virtual ~Renderer() = default;
    Renderer(const Renderer&) = delete;
    Renderer& operator=(const Renderer&) = delete;

    /// @param mesh  kept (its mapping is shared)
    /// @param used  one flag per part: draw it
    virtual void set_mesh(const Mesh& mesh, const std::vector<bool>& used) = 0;

    /// What draws such a picture.
    virtual const GraphicsFacts& facts(const RenderRequest& request) const = 0;

    /// Throws what the sink throws.
    virtual void render(const RenderRequest& request, const RowSink& sink,
                        RenderTimes* times = nullptr) = 0;
};

}  // namespace rakelight
