// Loaded into the command with LD_PRELOAD: the calls that change files, and the driver's report of
// errors, fail or are interrupted at a place that a test names. Each call counts, whoever makes it:
// files that are made, written or closed after writing, folders, links, renames, removals.
//
//   FAULT_AT=n             the n-th such call, from 1
//   FAULT_SIGNALS=s[,t]    sends these signals before it
//   FAULT_ERRNO=e          fails it with this error, and does not do it
//   FAULT_COUNT=file       writes how many such calls there were when the program ends
//   FAULT_LOST_AT=n        from its n-th call on, glGetError says that the context is lost

#include <dlfcn.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdarg>
#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace {

template <typename Function>
Function next(const char* name) {
    return reinterpret_cast<Function>(::dlsym(RTLD_NEXT, name));
}

long number(const char* variable) {
    const char* text = std::getenv(variable);
    return text != nullptr ? std::strtol(text, nullptr, 10) : 0;
}

std::atomic<long> calls{0};

void send_signals() {
    const char* text = std::getenv("FAULT_SIGNALS");
    while (text != nullptr && *text != '\0') {
        char* end = nullptr;
        ::kill(::getpid(), static_cast<int>(std::strtol(text, &end, 10)));
        text = *end == ',' ? end + 1 : end;
    }
}

/// @return whether this call is to fail; errno is set then
bool fault_here() {
    static const long at = number("FAULT_AT");
    if (++calls != at) return false;
    send_signals();
    static const long error = number("FAULT_ERRNO");
    if (error == 0) return false;
    errno = static_cast<int>(error);
    return true;
}

struct AtEnd {
    ~AtEnd() {
        const char* file = std::getenv("FAULT_COUNT");
        if (file == nullptr) return;
        std::FILE* stream = std::fopen(file, "w");
        if (stream == nullptr) return;
        std::fprintf(stream, "%ld", calls.load());
        std::fclose(stream);
    }
} at_end;

bool writable_file(int descriptor) {
    struct stat status {};
    return descriptor > STDERR_FILENO && ::fstat(descriptor, &status) == 0 &&
           S_ISREG(status.st_mode) && (::fcntl(descriptor, F_GETFL) & O_ACCMODE) != O_RDONLY;
}

unsigned lost_error() {
    static std::atomic<long> asked{0};
    static const long from = number("FAULT_LOST_AT");
    static const auto real = [] {
        using Lookup = void (*(*)(const char*))();
        return reinterpret_cast<unsigned (*)()>(next<Lookup>("eglGetProcAddress")("glGetError"));
    }();
    return ++asked >= from ? 0x0507U : real();  // GL_CONTEXT_LOST, KHR_robustness
}

}  // namespace

#define FAULT_OPEN(name)                                                       \
    extern "C" int name(const char* path, int flags, ...) {                    \
        mode_t mode = 0;                                                       \
        if ((flags & O_CREAT) != 0) {                                          \
            va_list rest;                                                      \
            va_start(rest, flags);                                             \
            mode = va_arg(rest, mode_t);                                       \
            va_end(rest);                                                      \
            if (fault_here()) return -1;                                       \
        }                                                                      \
        return next<int (*)(const char*, int, ...)>(#name)(path, flags, mode); \
    }
FAULT_OPEN(open)
FAULT_OPEN(open64)
#undef FAULT_OPEN

extern "C" ssize_t write(int descriptor, const void* bytes, size_t count) {
    if (writable_file(descriptor) && fault_here()) return -1;
    return next<ssize_t (*)(int, const void*, size_t)>("write")(descriptor, bytes, count);
}

extern "C" int close(int descriptor) {
    const bool fails = writable_file(descriptor) && fault_here();
    const int error = errno;
    const int result = next<int (*)(int)>("close")(descriptor);  // it is gone in any case
    if (!fails) return result;
    errno = error;
    return -1;
}

#define FAULT_ON_PATHS(name, parameters, arguments)      \
    extern "C" int name parameters noexcept {            \
        if (fault_here()) return -1;                     \
        return next<int(*) parameters>(#name) arguments; \
    }
FAULT_ON_PATHS(mkdir, (const char* path, mode_t mode), (path, mode))
FAULT_ON_PATHS(rmdir, (const char* path), (path))
FAULT_ON_PATHS(unlink, (const char* path), (path))
FAULT_ON_PATHS(link, (const char* from, const char* to), (from, to))
FAULT_ON_PATHS(rename, (const char* from, const char* to), (from, to))
#undef FAULT_ON_PATHS

extern "C" void (*eglGetProcAddress(const char* name))() {
    if (number("FAULT_LOST_AT") > 0 && std::strcmp(name, "glGetError") == 0) {
        return reinterpret_cast<void (*)()>(&lost_error);
    }
    using Lookup = void (*(*)(const char*))();
    return next<Lookup>("eglGetProcAddress")(name);
}
