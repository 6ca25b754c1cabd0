#pragma once
// What draws, and what it can do.

#include <string>
#include <vector>

namespace rakelight {

/// One way that was tried, and how it ended.
struct ContextAttempt {
    std::string way;  ///< "EGL device 0 (...)", "EGL surfaceless", "GLFW hidden window"
    bool taken = false;
    std::string outcome;  ///< "taken", or why it was refused
};

/// What a context, or the processor, is and what it can do.
struct GraphicsFacts {
    std::string way;  ///< as in ContextAttempt, or "processor": then the rest is empty
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

}  // namespace rakelight
