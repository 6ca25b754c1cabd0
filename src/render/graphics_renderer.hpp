#pragma once
// The renderer that draws with OpenGL.

#include <memory>
#include <optional>

#include "render/context.hpp"
#include "render/renderer.hpp"

namespace rakelight {

/// Where the OpenGL renderer computes occlusion and curvature, and by what the mesh is drawn. All
/// agree within rounding.
enum class PassDevice {
    automatic,  ///< the processor when the driver is a software one, else compute
    processor,
    graphics,  ///< vertex and fragment shaders, which every context has
    compute,   ///< compute shaders; what the context cannot do so is done as by graphics
};

class GpuClock;

/// Keeps programs and the uploaded mesh. Delivers a picture as a whole.
class GraphicsRenderer final : public Renderer {
public:
    /// @param context  current on this thread, outlives the renderer
    /// @param raster   where the mesh is drawn, if not as `device` says
    explicit GraphicsRenderer(const GraphicsContext& context,
                              PassDevice device = PassDevice::automatic,
                              std::optional<PassDevice> raster = {});
    ~GraphicsRenderer() override;

    void set_mesh(const Mesh& mesh, const std::vector<bool>& used) override;

    const GraphicsFacts& facts(const RenderRequest&) const override;

    /// Whether the driver's textures are large enough for the picture.
    bool holds(const RenderRequest& request) const;

    /// The request must not be one that only_processor_draws.
    /// Throws Error(no_graphics) when the textures are too small, with the size that was asked for
    /// and the limit.
    void render(const RenderRequest& request, const RowSink& sink,
                RenderTimes* times = nullptr) override;

private:
    struct Parts;
    struct Picture;
    RenderedPlanes render_whole(const RenderRequest& request, RenderTimes* times);
    void draw_passes(Picture& picture, GpuClock& gpu);
    void occlusion(const Picture& picture, Plane& plane);
    void curvature(const Picture& picture, Plane& plane);

    std::unique_ptr<Parts> parts_;
};

}  // namespace rakelight
