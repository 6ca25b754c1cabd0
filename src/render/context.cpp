#include "render/context.hpp"

#include <glad/gl.h>

#include <algorithm>
#include <mutex>
#include <stdexcept>

#include "error.hpp"
#include "render/context_ways.hpp"

namespace rakelight {
namespace {

std::string gl_string(GLenum name) {
    const auto* text = reinterpret_cast<const char*>(glGetString(name));
    return text != nullptr ? text : "";
}

int gl_integer(GLenum name) {
    GLint value = 0;
    glGetIntegerv(name, &value);
    return value;
}

int smaller_viewport_side() {
    GLint sides[2] = {0, 0};
    glGetIntegerv(GL_MAX_VIEWPORT_DIMS, sides);
    return sides[0] < sides[1] ? sides[0] : sides[1];
}

bool is_software(const std::string& renderer) {
    for (const char* name : {"llvmpipe", "softpipe", "swrast", "SWR", "Software Rasterizer",
                             "Apple Software Renderer", "GDI Generic"}) {
        if (renderer.find(name) != std::string::npos) return true;
    }
    return false;
}

void read_facts(GraphicsFacts& facts) {
    facts.vendor = gl_string(GL_VENDOR);
    facts.renderer = gl_string(GL_RENDERER);
    facts.software = is_software(facts.renderer);
    facts.compute = GLAD_GL_VERSION_4_3 != 0;
    facts.gl_version = gl_string(GL_VERSION);
    facts.glsl_version = gl_string(GL_SHADING_LANGUAGE_VERSION);
    facts.max_texture_px = gl_integer(GL_MAX_TEXTURE_SIZE);
    facts.max_viewport_px = smaller_viewport_side();
    facts.max_uniform_block_bytes = gl_integer(GL_MAX_UNIFORM_BLOCK_SIZE);
}

// The functions are the process's: contexts that threads open at the same time take turns.
void load_gl(GlLoader loader) {
    static std::mutex loading;
    const std::lock_guard lock(loading);
    const int loaded = gladLoadGL(loader);
    if (loaded == 0) throw std::runtime_error("its OpenGL functions could not be loaded");
    const int major = GLAD_VERSION_MAJOR(loaded);
    const int minor = GLAD_VERSION_MINOR(loaded);
    if (major < 4 || (major == 4 && minor < 1)) {
        throw std::runtime_error("it offers OpenGL " + std::to_string(major) + "." +
                                 std::to_string(minor) + ", and 4.1 core is needed");
    }
}

[[noreturn]] void refuse(const std::vector<ContextAttempt>& attempts) {
    std::string message =
        "no graphics context could be opened; expected OpenGL 4.1 core through EGL or a hidden "
        "window. Tried:";
    for (const auto& attempt : attempts) message += "\n  " + attempt.way + ": " + attempt.outcome;
    message +=
        "\nWithout --context the processor draws where there is no GPU, and needs no driver. For "
        "OpenGL without a GPU, install Mesa's software driver (Debian: libegl1 libgl1-mesa-dri), "
        "or "
        "give the window a display (Xvfb does).";
    throw Error(ExitCode::no_graphics, message);
}

}  // namespace

std::unique_ptr<GraphicsContext> open_way(const ContextWay& way,
                                          std::vector<ContextAttempt>& attempts) {
    try {
        OpenedWay opened = way.open();
        load_gl(opened.loader);
        attempts.push_back({way.name, true, "taken"});
        opened.context->facts_.way = way.name;
        opened.context->facts_.attempts = attempts;
        read_facts(opened.context->facts_);
        return std::move(opened.context);
    } catch (const std::runtime_error& reason) {
        attempts.push_back({way.name, false, reason.what()});
        return nullptr;
    }
}

std::unique_ptr<GraphicsContext> open_context(ContextChoice choice) {
    std::vector<ContextAttempt> attempts;
    std::vector<ContextWay> ways;
    if (choice != ContextChoice::glfw) {
        std::string refusal;
        ways = egl_ways(refusal);
        if (!refusal.empty()) attempts.push_back({"EGL", false, refusal});
    }
    if (choice != ContextChoice::egl) {
        for (auto& way : glfw_ways()) ways.push_back(std::move(way));
    }
    for (const auto& way : ways) {
        if (auto context = open_way(way, attempts)) return context;
    }
    refuse(attempts);
}

std::unique_ptr<GraphicsContext> open_gpu(std::vector<ContextAttempt>& attempts) {
    std::string refusal;
    auto ways = egl_ways(refusal);
    if (!refusal.empty()) attempts.push_back({"EGL", false, refusal});
    // Where devices are listed, the surfaceless way leads to one of them.
    const bool listed =
        std::any_of(ways.begin(), ways.end(), [](const ContextWay& way) { return way.device; });
    for (auto& way : glfw_ways()) ways.push_back(std::move(way));
    for (const auto& way : ways) {
        if (way.software || (listed && way.surfaceless)) {
            attempts.push_back({way.name, false,
                                way.software ? "a software driver; the processor is faster"
                                             : "the devices are tried one by one"});
            continue;
        }
        auto context = open_way(way, attempts);
        if (context == nullptr) continue;
        if (!context->facts().software) return context;
        attempts.back() = {
            way.name, false,
            context->facts().renderer + ": a software driver; the processor is faster"};
    }
    return nullptr;
}

}  // namespace rakelight
