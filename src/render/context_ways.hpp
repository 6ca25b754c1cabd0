#pragma once
// Private to render/: the ways to a context that open_context tries.

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "render/context.hpp"

namespace rakelight {

/// How to look up OpenGL functions in the context just made current.
using GlLoader = void (*(*)(const char*))();

/// A core version of OpenGL.
struct CoreVersion {
    int major;
    int minor;
};

/// Asked for in this order. The base is the last; a newer one brings compute shaders (4.3) and
/// buffers that stay mapped (4.4). A driver may give more than it is asked for, so few are asked.
inline constexpr CoreVersion wanted_versions[] = {{4, 6}, {4, 4}, {4, 3}, {4, 1}};

/// A way that has been made current: the context and its function loader.
struct OpenedWay {
    std::unique_ptr<GraphicsContext> context;
    GlLoader loader = nullptr;
};

struct ContextWay {
    std::string name;
    /// Makes a context current. Throws std::runtime_error with the reason when it can't.
    std::function<OpenedWay()> open;
    bool device = false;       ///< one that EGL lists
    bool software = false;     ///< known before it is opened
    bool surfaceless = false;  ///< EGL without a device: the driver chooses
};

/// Empty when the program was built without EGL or its loader finds no driver at all; then
/// `refusal` says so.
std::vector<ContextWay> egl_ways(std::string& refusal);
std::vector<ContextWay> glfw_ways();

}  // namespace rakelight
