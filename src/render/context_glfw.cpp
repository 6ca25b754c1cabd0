// A hidden window: the way on desktops, macOS, Windows and X servers.

#define GLFW_INCLUDE_NONE
#include <GLFW/glfw3.h>

#include <stdexcept>

#include "render/context_ways.hpp"

namespace rakelight {
namespace {

std::string glfw_reason(const std::string& call) {
    const char* description = nullptr;
    glfwGetError(&description);
    return call + " failed (" + (description != nullptr ? description : "no reason given") + ")";
}

class GlfwContext final : public GraphicsContext {
public:
    GlfwContext() {
        if (glfwInit() == GLFW_FALSE) throw std::runtime_error(glfw_reason("glfwInit"));
        glfwWindowHint(GLFW_VISIBLE, GLFW_FALSE);
        glfwWindowHint(GLFW_OPENGL_PROFILE, GLFW_OPENGL_CORE_PROFILE);
        glfwWindowHint(GLFW_OPENGL_FORWARD_COMPAT, GLFW_TRUE);  // macOS gives 4.1 only so
        for (const CoreVersion version : wanted_versions) {
            glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, version.major);
            glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, version.minor);
            window_ = glfwCreateWindow(16, 16, "rakelight", nullptr, nullptr);
            if (window_ != nullptr) break;
        }
        if (window_ == nullptr) {
            const std::string reason = glfw_reason("glfwCreateWindow");
            glfwTerminate();
            throw std::runtime_error(reason);
        }
        glfwMakeContextCurrent(window_);
    }
    GlfwContext(const GlfwContext&) = delete;
    GlfwContext& operator=(const GlfwContext&) = delete;
    ~GlfwContext() override {
        glfwDestroyWindow(window_);
        glfwTerminate();
    }

private:
    GLFWwindow* window_ = nullptr;
};

}  // namespace

std::vector<ContextWay> glfw_ways() {
    return {{"GLFW hidden window", [] {
                 return OpenedWay{std::make_unique<GlfwContext>(), glfwGetProcAddress};
             }}};
}

}  // namespace rakelight
