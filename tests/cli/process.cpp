#include "process.hpp"

#include <fcntl.h>
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <stdexcept>

#include "support.hpp"

namespace cli_test {
namespace {

double now_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch())
        .count();
}

struct Ends {
    int ours = -1, theirs = -1;
};

Ends make_pipe() {
    std::array<int, 2> ends{};
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    return {ends[0], ends[1]};
}

Ends make_terminal() {
    Ends ends;
    if (::openpty(&ends.ours, &ends.theirs, nullptr, nullptr, nullptr) != 0) {
        throw std::runtime_error("no pseudo-terminal: is /dev/pts mounted?");
    }
    ::fcntl(ends.ours, F_SETFD, FD_CLOEXEC);
    ::fcntl(ends.theirs, F_SETFD, FD_CLOEXEC);
    return ends;
}

[[noreturn]] void become(const Words& command_line, const Setup& setup, int out, int err) {
    ::setpgid(0, 0);
    ::dup2(out, STDOUT_FILENO);
    ::dup2(err, STDERR_FILENO);
    ::close(STDIN_FILENO);
    for (const auto& name : setup.unset) ::unsetenv(name.c_str());
    for (const auto& [name, value] : setup.env) ::setenv(name.c_str(), value.c_str(), 1);
    if (!setup.cwd.empty() && ::chdir(setup.cwd.c_str()) != 0) ::_exit(126);
    if (setup.in_child) setup.in_child();
    std::vector<char*> arguments;
    for (const auto& word : command_line) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    ::execvp(arguments[0], arguments.data());
    ::_exit(127);
}

}  // namespace

Process::Process(const Words& command_line, const Setup& setup)
    : setup_(setup), deadline_s_(now_s() + setup.timeout_s) {
    const Ends out = make_pipe();
    const Ends err = setup.stderr_is_terminal ? make_terminal() : make_pipe();
    pid_ = ::fork();
    if (pid_ < 0) throw std::runtime_error("no process");
    if (pid_ == 0) become(command_line, setup, out.theirs, err.theirs);
    ::setpgid(pid_, pid_);  // as the child does: whoever comes first
    ::close(out.theirs);
    ::close(err.theirs);
    out_ = out.ours;
    err_ = err.ours;
}

Process::~Process() {
    if (pid_ > 0) {
        ::kill(-pid_, SIGKILL);
        ::waitpid(pid_, nullptr, 0);
    }
    for (const int descriptor : {out_, err_}) {
        if (descriptor >= 0) ::close(descriptor);
    }
}

void Process::take(int& descriptor, std::string& text) {
    std::array<char, 65536> buffer;
    const ssize_t count = ::read(descriptor, buffer.data(), buffer.size());
    if (count < 0 && errno == EINTR) return;
    if (count > 0) {
        text.append(buffer.data(), static_cast<std::size_t>(count));
        return;
    }
    ::close(descriptor);  // its end; a terminal says EIO
    descriptor = -1;
}

void Process::listen(int milliseconds) {
    std::array<pollfd, 2> wanted{{{out_, POLLIN, 0}, {err_, POLLIN, 0}}};
    if (::poll(wanted.data(), wanted.size(), milliseconds) <= 0) return;
    if (wanted[0].revents != 0) take(out_, ended_.out);
    if (wanted[1].revents != 0) take(err_, ended_.err);
}

bool Process::late() const {
    return now_s() > deadline_s_;
}

bool Process::wait_for(const std::function<bool()>& sign) {
    while ((out_ >= 0 || err_ >= 0) && !late()) {
        if (sign()) return true;
        listen(2);
    }
    return false;
}

void Process::send(int signal_number) const {
    ::kill(pid_, signal_number);
}

Ended Process::end() {
    while ((out_ >= 0 || err_ >= 0) && !late()) listen(50);
    int status = 0;
    pid_t gone = 0;
    while ((gone = ::waitpid(pid_, &status, WNOHANG)) == 0 && !late()) ::usleep(1000);
    if (gone == 0) {
        ended_.timed_out = true;
        ::kill(-pid_, SIGKILL);
        ::waitpid(pid_, &status, 0);
    }
    pid_ = -1;
    if (WIFEXITED(status)) ended_.code = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) ended_.signal = WTERMSIG(status);
    return ended_;
}

Ended run(const Words& command_line, const Setup& setup) {
    return Process(command_line, setup).end();
}

Words command_line(Words arguments) {
    arguments.insert(arguments.begin(), RAKELIGHT_COMMAND);
    return arguments;
}

Setup own_folders(Setup setup) {
    setup.env.emplace("XDG_CACHE_HOME", (root_folder() / "cache").string());
    setup.env.emplace("TMPDIR", (root_folder() / "tmp").string());
    setup.env.emplace("LC_ALL", "C");
    return setup;
}

Ended rakelight(const Words& arguments, const Setup& setup) {
    return run(command_line(arguments), own_folders(setup));
}

std::string installed(const std::string& program) {
    const char* path = std::getenv("PATH");
    std::string folders = path != nullptr ? path : "";
    for (std::size_t begin = 0; begin < folders.size();) {
        const std::size_t end = std::min(folders.find(':', begin), folders.size());
        const fs::path file = fs::path(folders.substr(begin, end - begin)) / program;
        if (::access(file.c_str(), X_OK) == 0) return file;
        begin = end + 1;
    }
    return "";
}

std::function<void()> closing(int descriptor) {
    return [descriptor] { ::close(descriptor); };
}

std::function<void()> onto(int descriptor, const std::string& file) {
    return [descriptor, file] {
        const int opened = ::open(file.c_str(), O_WRONLY);
        ::dup2(opened, descriptor);
        ::close(opened);
    };
}

}  // namespace cli_test
