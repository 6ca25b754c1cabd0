#pragma once
// Graphics contexts behind one interface. OpenGL 4.1 core, without any display where EGL allows
// it, in a hidden window otherwise.

#include <memory>
#include <string>
#include <vector>

namespace rakelight {

enum class ContextChoice { automatic, egl, glfw };

/// One way that was tried, and how it ended.
struct ContextAttempt {
    std::string way;  ///< "EGL device 0 (...)", "EGL surfaceless", "GLFW hidden window"
    bool taken = false;
    std::string outcome;  ///< "taken", or why it was refused
};

/// What a context is and what it can do.
struct GraphicsFacts {
    std::string way;
    std::string vendor;
    std::string renderer;
    bool software = false;  ///< the driver draws on the processor
    bool compute = false;   ///< it has compute shaders (OpenGL 4.3)
    std::string gl_version;
    std::string glsl_version;
    int max_texture_px = 0;
    int max_viewport_px = 0;
    int max_uniform_block_bytes = 0;
    std::vector<ContextAttempt> attempts;
};

/// A current OpenGL core context of 4.1 or newer; it stays current on the thread that opened it.
class GraphicsContext {
public:
    virtual ~GraphicsContext() = default;
    const GraphicsFacts& facts() const { return facts_; }

protected:
    GraphicsFacts facts_;
    friend std::unique_ptr<GraphicsContext> open_context(ContextChoice);
};

/// Opens the first context that works, in this order: EGL on a hardware device, EGL surfaceless,
/// EGL on a software device, a hidden GLFW window. The choice narrows the list.
/// Throws Error(no_graphics) naming every way that was tried and why it was refused.
std::unique_ptr<GraphicsContext> open_context(ContextChoice choice);

}  // namespace rakelight
