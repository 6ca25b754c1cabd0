#pragma once
// The renderer that fits the machine: a GPU where there is one, the processor otherwise.

#include <memory>
#include <optional>

#include "render/context.hpp"
#include "render/graphics_renderer.hpp"
#include "render/processor_renderer.hpp"

namespace rakelight {

enum class DeviceChoice {
    automatic,  ///< a GPU, or else the processor; the processor too where a picture is too large.
                ///< Whatever is chosen, the processor draws what only_processor_draws
    processor,
    egl,   ///< OpenGL through EGL, whoever draws for it
    glfw,  ///< OpenGL in a hidden window
};

/// A mesh whose materials have pictures is drawn by the processor, whatever was chosen.
class DeviceRenderer final : public Renderer {
public:
    /// Throws Error(no_graphics) when a context was chosen and cannot be opened.
    explicit DeviceRenderer(DeviceChoice choice);

    /// Nothing happens when it is the mesh that it has.
    void set_mesh(const Mesh& mesh, const std::vector<bool>& used) override;
    const GraphicsFacts& facts(const RenderRequest& request) const override;
    void render(const RenderRequest& request, const RowSink& sink,
                RenderTimes* times = nullptr) override;

    /// Whether others like it on other threads make it quicker: not a window, which belongs to the
    /// thread it was opened on, nor a software driver, which has all cores at work already.
    bool welcomes_others() const;

    /// Of what draws pictures of usual size, with all that was tried.
    const GraphicsFacts& facts() const;

private:
    bool on_graphics(const RenderRequest& request) const;

    DeviceChoice choice_;
    std::unique_ptr<GraphicsContext> context_;
    std::optional<GraphicsRenderer> graphics_;
    std::optional<Mesh> mesh_;  ///< what is kept, so that it is not uploaded for each pose
    std::vector<bool> used_;
    bool has_detail_ = false;  ///< pictures on the mesh, which only the processor draws
    ProcessorRenderer processor_;
};

}  // namespace rakelight
