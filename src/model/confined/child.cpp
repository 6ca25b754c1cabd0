#include "model/confined/child.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstring>
#include <limits>
#include <new>
#include <system_error>
#include <thread>

#ifdef __linux__
#include <malloc.h>
#include <sys/prctl.h>
#endif

#include "error.hpp"
#include "interrupt.hpp"
#include "model/confined/file_handle.hpp"
#include "model/import_bytes.hpp"
#include "printable.hpp"
#include "share_work.hpp"

#if defined(__SANITIZE_ADDRESS__)
#define RAKELIGHT_ADDRESS_SANITIZER 1
#elif defined(__has_feature)
#define RAKELIGHT_ADDRESS_SANITIZER __has_feature(address_sanitizer)
#else
#define RAKELIGHT_ADDRESS_SANITIZER 0
#endif

namespace rakelight {
namespace {

using Clock = std::chrono::steady_clock;

// What the child writes into the pipe: one of these and a message. No message: it died.
enum Verdict : char {
    says_done = 'd',
    says_refused = 'r',
    says_not_written = 'w',
    says_fault = 'f',
    says_memory = 'm',
};

void limit(decltype(RLIMIT_CPU) what, rlim_t soft, rlim_t hard) {
    rlimit current{};
    if (::getrlimit(what, &current) != 0) return;
    const rlimit wanted{std::min(soft, current.rlim_max), std::min(hard, current.rlim_max)};
    ::setrlimit(what, &wanted);
}

constexpr rlim_t most_files = 256, most_processes = 4096;

void limit_child(const ImportLimits& limits) {
    const rlim_t memory = static_cast<rlim_t>(limits.memory_mib) << 20;
#if !RAKELIGHT_ADDRESS_SANITIZER  // whose shadow memory takes terabytes of address space
    limit(RLIMIT_AS, memory, memory);
    if (limits.own_mib) {
        const rlim_t own = static_cast<rlim_t>((*limits.own_mib << 20) + spare_bytes());
        limit(RLIMIT_DATA, own, own);
    }
#endif
    // Past the soft limit SIGXCPU ends the child; past the hard one SIGKILL, should it hold on.
    limit(RLIMIT_CPU, limits.cpu_s, limits.cpu_s + rlim_t{2});
    limit(RLIMIT_CORE, 0, 0);
    limit(RLIMIT_FSIZE, memory, memory);  // nothing it writes was not in its memory before
    limit(RLIMIT_NOFILE, most_files, most_files);
    // All of the user's processes and threads count. Beyond it no thread starts, and the import
    // does with those it has.
    limit(RLIMIT_NPROC, most_processes, most_processes);
}

/// Whatever else this process or who started it had open is none of the child's business.
void close_others(int kept, int also_kept) {
    const int low = std::min(kept, also_kept), high = std::max(kept, also_kept);
    const auto close_run = [](int first, int last) {
        if (first > last) return;
#if defined(__GLIBC__) && defined(CLOSE_RANGE_UNSHARE)
        if (::close_range(first, last, 0) == 0) return;
#endif
        const int end = static_cast<int>(std::min<long>(::sysconf(_SC_OPEN_MAX), 65536));
        for (int i = first; i <= last && i < end; ++i) ::close(i);
    };
    close_run(STDERR_FILENO + 1, low - 1);
    close_run(std::max(low, STDERR_FILENO) + 1, high - 1);
    close_run(std::max(high, STDERR_FILENO) + 1, std::numeric_limits<int>::max());
}

Confinement prepare_child(const ImportLimits& limits, const ChildReach& reach, int pipe) {
    // A terminal's Ctrl-C reaches the child too. The parent is who ends it: a child that died of
    // the signal by itself would look like a crashed import.
    for (const int signal_number : {SIGINT, SIGTERM}) std::signal(signal_number, SIG_IGN);
    // Signals that somebody else catches end the child.
    for (const int signal_number : {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT})
        std::signal(signal_number, SIG_DFL);
    std::signal(SIGXFSZ, SIG_IGN);  // a write fails instead, and gets its own message
    if (const int nowhere = ::open("/dev/null", O_RDWR | O_CLOEXEC); nowhere >= 0) {
        for (const int standard : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
            ::dup2(nowhere, standard);
    } else {
        for (const int standard : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) ::close(standard);
    }
    close_others(pipe, reach.output);
#ifdef __linux__
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);  // no child outlives this process
#ifdef __GLIBC__
    // Memory that the importer frees is used again by what comes after it, instead of being given
    // back and asked for anew page by page: a tenth of the time of a large import.
    ::mallopt(M_MMAP_THRESHOLD, 32 << 20);  // the most that it takes
    ::mallopt(M_TRIM_THRESHOLD, -1);
    ::mallopt(M_TOP_PAD, 16 << 20);
#endif
#endif
    limit_child(limits);
    return confine_this_process(reach);
}

void tell(int pipe, char verdict, const char* message) noexcept {
    // Nothing here may need memory: there may be none.
    const auto send = [&](const char* data, std::size_t size) {
        while (size > 0) {
            const ssize_t count = ::write(pipe, data, size);
            if (count < 0 && errno != EINTR) return;
            if (count < 0) continue;
            data += count;
            size -= static_cast<std::size_t>(count);
        }
    };
    send(&verdict, 1);
    send(message, std::strlen(message));
}

// What the child says of its confinement: Landlock's version as one character, and whether calls
// are filtered.
std::array<char, 3> confinement_text(const Confinement& confinement) {
    return {static_cast<char>('0' + std::min(confinement.landlock_version, 64)),
            confinement.calls ? '+' : '-', '\0'};
}

Confinement confinement_from(const std::string& text) {
    if (text.size() != 2) return {};
    return {text[0] - '0', text[1] == '+'};
}

void run_job(int pipe, const std::function<void()>& job, const Confinement& confinement) noexcept {
    try {
        job();
        tell(pipe, says_done, confinement_text(confinement).data());
    } catch (const std::bad_alloc&) {
        tell(pipe, says_memory, "");
    } catch (const Error& e) {
        tell(pipe, e.code() == ExitCode::bad_model ? says_refused : says_fault, e.what());
    } catch (const std::system_error& e) {
        tell(pipe, says_not_written, e.code().message().c_str());
    } catch (const std::exception& e) {
        tell(pipe, says_fault, e.what());
    } catch (...) {
        tell(pipe, says_fault, "unknown exception");
    }
}

/// A child that is ended and waited for at the latest when this goes.
class Child {
public:
    explicit Child(pid_t pid) : pid_(pid) {}
    Child(const Child&) = delete;
    Child& operator=(const Child&) = delete;
    ~Child() {
        if (pid_ <= 0) return;
        ::kill(pid_, SIGKILL);
        wait();
    }

    /// The status as waitpid gives it.
    int wait() {
        int status = 0;
        while (::wait4(pid_, &status, 0, &usage_) < 0 && errno == EINTR) {
        }
        pid_ = -1;
        return status;
    }

    double cpu_s() const {
        const auto seconds = [](const timeval& t) {
            return double(t.tv_sec) + 1e-6 * double(t.tv_usec);
        };
        return seconds(usage_.ru_utime) + seconds(usage_.ru_stime);
    }

private:
    pid_t pid_;
    rusage usage_{};
};

enum class Heard { all, too_late };

/// Collects what the child writes until it closes its end, which it does by ending.
Heard listen(int pipe, Clock::time_point deadline, std::string& message) {
    for (;;) {
        stop_if_interrupted();
        const auto left =
            std::chrono::duration_cast<std::chrono::milliseconds>(deadline - Clock::now()).count();
        if (left <= 0) return Heard::too_late;
        // A signal that comes between the question above and poll is noticed at the next turn.
        pollfd wanted{pipe, POLLIN, 0};
        const int ready = ::poll(&wanted, 1, static_cast<int>(std::min<long long>(left, 100)));
        if (ready <= 0) continue;
        std::array<char, 4096> buffer;
        const ssize_t count = ::read(pipe, buffer.data(), buffer.size());
        if (count < 0 && errno == EINTR) continue;
        if (count <= 0) return Heard::all;
        message.append(buffer.data(), static_cast<std::size_t>(count));
    }
}

std::string signal_name(int number) {
    switch (number) {
        case SIGSEGV:
            return "SIGSEGV";
        case SIGABRT:
            return "SIGABRT";
        case SIGBUS:
            return "SIGBUS";
        case SIGFPE:
            return "SIGFPE";
        case SIGILL:
            return "SIGILL";
        case SIGKILL:
            return "SIGKILL";
        case SIGSYS:
            return "SIGSYS";
        case SIGTERM:
            return "SIGTERM";
        default:
            return "signal " + std::to_string(number);
    }
}

ChildReport report_death(int status, double cpu_s, const ImportLimits& limits) {
    if (!WIFSIGNALED(status))
        return {ChildEnd::crashed, "exit status " + std::to_string(WEXITSTATUS(status))};
    const int number = WTERMSIG(status);
    if (number == SIGXCPU || (number == SIGKILL && cpu_s >= limits.cpu_s))
        return {ChildEnd::cpu_limit, {}};
    // Nobody else sends it but the system when it runs out of memory.
    if (number == SIGKILL) return {ChildEnd::out_of_memory, "the system killed it"};
    if (number == SIGSYS) return {ChildEnd::forbidden, signal_name(number)};
    return {ChildEnd::crashed, signal_name(number)};
}

ChildReport report_message(const std::string& message) {
    // It may quote the file, which may be made for terminals.
    std::string text = printable(std::string_view(message).substr(1));
    switch (message.front()) {
        case says_done:
            return {ChildEnd::done, {}, confinement_from(text)};
        case says_refused:
            return {ChildEnd::refused, std::move(text)};
        case says_not_written:
            return {ChildEnd::not_written, std::move(text)};
        case says_memory:
            return {ChildEnd::out_of_memory, {}};
        default:
            return {ChildEnd::fault, std::move(text)};
    }
}

[[noreturn]] void throw_no_process(const char* what) {
    throw Error(ExitCode::own_fault, std::string("cannot start the import (") + what + ": " +
                                         std::generic_category().message(errno) +
                                         "); free some memory or processes and try again");
}

}  // namespace

ChildReport run_in_child(const ImportLimits& limits, const ChildReach& reach,
                         const std::function<void()>& job) {
    std::array<int, 2> ends{};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) throw_no_process("pipe");
    const FileHandle reading(ends[0]);
    FileHandle writing(ends[1]);
    const auto deadline = Clock::now() + std::chrono::seconds(limits.wall_s);

    const pid_t pid = ::fork();
    if (pid < 0) throw_no_process("fork");
    if (pid == 0) {
        run_job(writing.get(), job, prepare_child(limits, reach, writing.get()));
        ::_exit(0);
    }
    Child child(pid);
    writing.reset();
    std::string message;
    if (listen(reading.get(), deadline, message) == Heard::too_late)
        return {ChildEnd::wall_limit, {}};
    const int status = child.wait();
    stop_if_interrupted();  // the signal may have reached the child first
    if (message.empty() || !WIFEXITED(status)) return report_death(status, child.cpu_s(), limits);
    return report_message(message);
}

}  // namespace rakelight
