#pragma once
// Graphics contexts behind one interface. OpenGL 4.1 core, without any display where EGL allows
// it, in a hidden window otherwise.

#include <memory>
#include <vector>

#include "render/graphics_facts.hpp"

namespace rakelight {

/// Which contexts are tried.
enum class ContextChoice { automatic, egl, glfw };

struct ContextWay;  // private to render/

/// A current OpenGL core context of 4.1 or newer; it stays current on the thread that opened it.
class GraphicsContext {
public:
    virtual ~GraphicsContext() = default;
    const GraphicsFacts& facts() const { return facts_; }

protected:
    GraphicsFacts facts_;
    friend std::unique_ptr<GraphicsContext> open_way(const ContextWay&,
                                                     std::vector<ContextAttempt>&);
};

/// Opens the first context that works, in this order: EGL on a hardware device, EGL surfaceless,
/// EGL on a software device, a hidden GLFW window. The choice narrows the list.
/// Throws Error(no_graphics) naming every way that was tried and why it was refused.
std::unique_ptr<GraphicsContext> open_context(ContextChoice choice);

/// Opens a context that a GPU draws for; none when there is none, which is no error.
/// @param attempts  receives every way that was tried, and why it was refused
std::unique_ptr<GraphicsContext> open_gpu(std::vector<ContextAttempt>& attempts);

}  // namespace rakelight
