// EGL contexts without any display or window: on a device (a GPU of a server), or surfaceless.

#include <cstdlib>
#include <cstring>
#include <stdexcept>

#include "render/context_ways.hpp"

#ifdef RAKELIGHT_HAS_EGL

#include <EGL/egl.h>
#include <EGL/eglext.h>

#include <map>
#include <mutex>

namespace rakelight {
namespace {

std::string egl_reason(const std::string& call) {
    struct Name {
        EGLint code;
        const char* text;
    };
    static constexpr Name names[] = {
        {EGL_NOT_INITIALIZED, "EGL_NOT_INITIALIZED: no driver for it"},
        {EGL_BAD_ACCESS, "EGL_BAD_ACCESS"},
        {EGL_BAD_ALLOC, "EGL_BAD_ALLOC"},
        {EGL_BAD_ATTRIBUTE, "EGL_BAD_ATTRIBUTE"},
        {EGL_BAD_CONFIG, "EGL_BAD_CONFIG"},
        {EGL_BAD_MATCH, "EGL_BAD_MATCH: the version is not offered"},
        {EGL_BAD_DISPLAY, "EGL_BAD_DISPLAY"},
        {EGL_BAD_PARAMETER, "EGL_BAD_PARAMETER"},
    };
    const EGLint code = eglGetError();
    for (const auto& name : names) {
        if (name.code == code) return call + " failed (" + name.text + ")";
    }
    return call + " failed (EGL error " + std::to_string(code) + ")";
}

bool has_word(const char* list, const char* word) {
    if (list == nullptr) return false;
    const std::size_t length = std::strlen(word);
    for (const char* at = std::strstr(list, word); at != nullptr; at = std::strstr(at + 1, word)) {
        const bool starts = at == list || at[-1] == ' ';
        if (starts && (at[length] == '\0' || at[length] == ' ')) return true;
    }
    return false;
}

// An initialised display. The driver knows it once, however many contexts of the process use it,
// and ending it would end them all: the last that uses it does.
class OpenDisplay {
public:
    explicit OpenDisplay(EGLDisplay display) : display_(display) {
        const std::lock_guard lock(mutex());
        if (eglInitialize(display_, nullptr, nullptr) == EGL_FALSE)
            throw std::runtime_error(egl_reason("eglInitialize"));
        ++users()[display_];
    }
    ~OpenDisplay() {
        const std::lock_guard lock(mutex());
        if (--users()[display_] == 0) eglTerminate(display_);
    }
    OpenDisplay(const OpenDisplay&) = delete;
    OpenDisplay& operator=(const OpenDisplay&) = delete;

private:
    static std::mutex& mutex() {
        static std::mutex one;
        return one;
    }
    static std::map<EGLDisplay, int>& users() {
        static std::map<EGLDisplay, int> counts;
        return counts;
    }
    EGLDisplay display_;
};

class EglContext final : public GraphicsContext {
public:
    explicit EglContext(EGLDisplay display) : open_(display), display_(display) {}
    EglContext(const EglContext&) = delete;
    EglContext& operator=(const EglContext&) = delete;
    ~EglContext() override {
        eglMakeCurrent(display_, EGL_NO_SURFACE, EGL_NO_SURFACE, EGL_NO_CONTEXT);
        if (context_ != EGL_NO_CONTEXT) eglDestroyContext(display_, context_);
    }

    void make_current() {
        if (eglBindAPI(EGL_OPENGL_API) == EGL_FALSE) {
            throw std::runtime_error("the driver has OpenGL ES only, not OpenGL");
        }
        const EGLConfig config = pick_config();
        for (const CoreVersion version : wanted_versions) {
            context_ = create(config, version);
            if (context_ != EGL_NO_CONTEXT) break;
        }
        if (context_ == EGL_NO_CONTEXT) throw std::runtime_error(egl_reason("eglCreateContext"));
        if (eglMakeCurrent(display_, EGL_NO_SURFACE, EGL_NO_SURFACE, context_) == EGL_FALSE) {
            throw std::runtime_error(egl_reason("eglMakeCurrent without a surface"));
        }
    }

private:
    // A context that says when it is lost, where the driver can make one: otherwise a picture drawn
    // by a driver that was reset meanwhile might pass for a good one.
    EGLContext create(EGLConfig config, CoreVersion version) const {
        const EGLContext telling = create(config, version, EGL_LOSE_CONTEXT_ON_RESET);
        if (telling != EGL_NO_CONTEXT) return telling;
        return create(config, version, EGL_NO_RESET_NOTIFICATION);
    }

    EGLContext create(EGLConfig config, CoreVersion version, EGLint on_reset) const {
        const EGLint attributes[] = {
            EGL_CONTEXT_MAJOR_VERSION, version.major, EGL_CONTEXT_MINOR_VERSION, version.minor,
            EGL_CONTEXT_OPENGL_PROFILE_MASK, EGL_CONTEXT_OPENGL_CORE_PROFILE_BIT,
            // Last, so that it is left out where nobody knows the word.
            on_reset == EGL_NO_RESET_NOTIFICATION ? EGL_NONE
                                                  : EGL_CONTEXT_OPENGL_RESET_NOTIFICATION_STRATEGY,
            on_reset, EGL_NONE};
        return eglCreateContext(display_, config, EGL_NO_CONTEXT, attributes);
    }

    // Rendering goes to framebuffer objects alone, so any configuration that knows OpenGL will do.
    EGLConfig pick_config() const {
        static constexpr EGLint wanted[] = {EGL_RENDERABLE_TYPE, EGL_OPENGL_BIT, EGL_SURFACE_TYPE,
                                            EGL_DONT_CARE, EGL_NONE};
        EGLConfig config = nullptr;
        EGLint count = 0;
        if (eglChooseConfig(display_, wanted, &config, 1, &count) == EGL_FALSE || count == 0) {
            if (has_word(eglQueryString(display_, EGL_EXTENSIONS), "EGL_KHR_no_config_context")) {
                return EGL_NO_CONFIG_KHR;
            }
            throw std::runtime_error("no EGL configuration offers OpenGL");
        }
        return config;
    }

    OpenDisplay open_;
    EGLDisplay display_;
    EGLContext context_ = EGL_NO_CONTEXT;
};

OpenedWay open_display(EGLenum platform, void* native) {
    const EGLDisplay display = eglGetPlatformDisplay(platform, native, nullptr);
    if (display == EGL_NO_DISPLAY) throw std::runtime_error(egl_reason("eglGetPlatformDisplay"));
    auto context = std::make_unique<EglContext>(display);
    context->make_current();
    return {std::move(context), eglGetProcAddress};
}

struct Device {
    EGLDeviceEXT handle;
    bool software;
    std::string name;
};

std::string device_name(PFNEGLQUERYDEVICESTRINGEXTPROC query, EGLDeviceEXT device, int index,
                        const char* extensions) {
    std::string name = "EGL device " + std::to_string(index);
    if (has_word(extensions, "EGL_EXT_device_drm")) {
        const char* file = query(device, EGL_DRM_DEVICE_FILE_EXT);
        if (file != nullptr) name += std::string(" (") + file + ")";
    }
    return name;
}

std::vector<Device> list_devices() {
    std::vector<Device> devices;
    const auto list =
        reinterpret_cast<PFNEGLQUERYDEVICESEXTPROC>(eglGetProcAddress("eglQueryDevicesEXT"));
    const auto query = reinterpret_cast<PFNEGLQUERYDEVICESTRINGEXTPROC>(
        eglGetProcAddress("eglQueryDeviceStringEXT"));
    EGLDeviceEXT handles[32];
    EGLint count = 0;
    if (list == nullptr || query == nullptr || list(32, handles, &count) == EGL_FALSE) {
        return devices;
    }
    for (int i = 0; i < count; ++i) {
        const char* extensions = query(handles[i], EGL_EXTENSIONS);
        const bool software = has_word(extensions, "EGL_MESA_device_software");
        devices.push_back({handles[i], software, device_name(query, handles[i], i, extensions)});
    }
    return devices;
}

ContextWay device_way(const Device& device) {
    return {device.name + (device.software ? ", software" : ""),
            [handle = device.handle] { return open_display(EGL_PLATFORM_DEVICE_EXT, handle); },
            true, device.software};
}

}  // namespace

std::vector<ContextWay> egl_ways(std::string& refusal) {
    // Mesa tells stderr about every device it cannot open; our own report says it better.
    setenv("EGL_LOG_LEVEL", "fatal", 0);
    const char* extensions = eglQueryString(EGL_NO_DISPLAY, EGL_EXTENSIONS);
    if (extensions == nullptr) {
        refusal = "its client library finds no driver (eglQueryString gave nothing)";
        return {};
    }
    std::vector<Device> devices;
    if (has_word(extensions, "EGL_EXT_platform_device")) devices = list_devices();
    std::vector<ContextWay> ways;
    for (const auto& device : devices) {
        if (!device.software) ways.push_back(device_way(device));
    }
    if (has_word(extensions, "EGL_MESA_platform_surfaceless")) {
        ways.push_back({"EGL surfaceless", [] {
                            return open_display(EGL_PLATFORM_SURFACELESS_MESA, EGL_DEFAULT_DISPLAY);
                        }});
        ways.back().surfaceless = true;
    }
    for (const auto& device : devices) {
        if (device.software) ways.push_back(device_way(device));
    }
    if (ways.empty()) refusal = "it offers neither the device nor the surfaceless platform";
    return ways;
}

}  // namespace rakelight

#else

namespace rakelight {

std::vector<ContextWay> egl_ways(std::string& refusal) {
    refusal = "this program was built without it";
    return {};
}

}  // namespace rakelight

#endif
