#pragma once
// From a mesh and a camera to planes of physical values. Needs a current context.

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "framing/camera.hpp"
#include "image/plane.hpp"
#include "model/mesh.hpp"
#include "render/context.hpp"

namespace rakelight {

/// Where occlusion and curvature are computed, and by what the mesh is drawn. All agree within
/// rounding.
enum class PassDevice {
    automatic,  ///< the processor when the driver is a software one, else compute
    processor,
    graphics,  ///< vertex and fragment shaders, which every context has
    compute,   ///< compute shaders; what the context cannot do so is done as by graphics
};

/// What to render besides coverage, height and normal, which are always there.
struct RenderRequest {
    Camera camera;
    ImageGrid grid;
    int samples = 4;  ///< per axis
    std::optional<double> occlusion_reach_mm;
    std::optional<double> curvature_scale_mm;
    std::optional<double> contour_step_mm;
    std::vector<std::uint32_t> mask_parts;  ///< part numbers, one mask each
    PassDevice device = PassDevice::automatic;
    std::optional<PassDevice> raster;  ///< where the mesh is drawn, if not as `device` says
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

class GpuClock;

/// Keeps programs and the uploaded mesh; renders as often as asked.
class Renderer {
public:
    /// @param context  current on this thread, outlives the renderer
    explicit Renderer(const GraphicsContext& context);
    ~Renderer();
    Renderer(const Renderer&) = delete;
    Renderer& operator=(const Renderer&) = delete;

    /// Uploads a mesh. @param used  one flag per part: draw it.
    void set_mesh(const Mesh& mesh, const std::vector<bool>& used);

    /// Throws Error(no_graphics) when the driver cannot hold the picture, with the size that was
    /// asked for and the limit.
    RenderedPlanes render(const RenderRequest& request, RenderTimes* times = nullptr);

private:
    struct Parts;
    struct Picture;
    int guard_px(const RenderRequest& request) const;
    void draw_passes(Picture& picture, GpuClock& gpu);
    void occlusion(const Picture& picture, Plane& plane);
    void curvature(const Picture& picture, Plane& plane);

    std::unique_ptr<Parts> parts_;
};

}  // namespace rakelight
