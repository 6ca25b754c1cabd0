#include "render/device_renderer.hpp"

#include "render/surface_detail.hpp"

namespace rakelight {

DeviceRenderer::DeviceRenderer(DeviceChoice choice) : choice_(choice) {
    std::vector<ContextAttempt> attempts;
    if (choice == DeviceChoice::automatic) context_ = open_gpu(attempts);
    if (choice == DeviceChoice::egl) context_ = open_context(ContextChoice::egl);
    if (choice == DeviceChoice::glfw) context_ = open_context(ContextChoice::glfw);
    if (context_) graphics_.emplace(*context_);
    attempts.push_back({"processor", true, "taken"});
    processor_.set_attempts(attempts);
}

bool DeviceRenderer::on_graphics(const RenderRequest& request) const {
    if (!graphics_ || has_detail_ || only_processor_draws(request)) return false;
    return choice_ != DeviceChoice::automatic || graphics_->holds(request);
}

void DeviceRenderer::set_mesh(const Mesh& mesh, const std::vector<bool>& used) {
    if (mesh_ && mesh_->same_as(mesh) && used_ == used) return;
    has_detail_ = has_detail(mesh, used);
    if (graphics_ && !has_detail_) graphics_->set_mesh(mesh, used);
    processor_.set_mesh(mesh, used);
    mesh_ = mesh;
    used_ = used;
}

const GraphicsFacts& DeviceRenderer::facts(const RenderRequest& request) const {
    return on_graphics(request) ? graphics_->facts(request) : processor_.facts(request);
}

const GraphicsFacts& DeviceRenderer::facts() const {
    return context_ ? context_->facts() : processor_.facts({});
}

bool DeviceRenderer::welcomes_others() const {
    if (!context_) return true;
    const GraphicsFacts& facts = context_->facts();
    return !facts.software && facts.way.starts_with("EGL");
}

void DeviceRenderer::render(const RenderRequest& request, const RowSink& sink, RenderTimes* times) {
    Renderer& renderer = on_graphics(request) ? static_cast<Renderer&>(*graphics_) : processor_;
    renderer.render(request, sink, times);
}

}  // namespace rakelight
