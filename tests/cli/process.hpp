#pragma once
// Other programs, run from outside as a user runs them: arguments in, exit code and text out.

#include <sys/types.h>

#include <filesystem>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

namespace cli_test {

namespace fs = std::filesystem;
using Words = std::vector<std::string>;

/// How a program is run. stdin is always closed.
struct Setup {
    fs::path cwd;                            ///< empty: this program's own
    std::map<std::string, std::string> env;  ///< added to what is inherited
    std::set<std::string> unset;
    std::function<void()> in_child;  ///< between fork and exec, after stdout and stderr are set
    bool stderr_is_terminal = false;
    double timeout_s = 100.0;
};

struct Ended {
    int code = -1;   ///< exit code; -1 when a signal ended it
    int signal = 0;  ///< that signal
    bool timed_out = false;
    std::string out, err;
};

/// A running program. It is killed at the latest when this goes.
class Process {
public:
    explicit Process(const Words& command_line, const Setup& setup = {});
    Process(const Process&) = delete;
    Process& operator=(const Process&) = delete;
    ~Process();

    pid_t pid() const { return pid_; }
    /// What it has written to stderr so far.
    const std::string& err() const { return ended_.err; }
    /// Reads its output until the sign is seen (true) or it has ended or run out of time (false).
    bool wait_for(const std::function<bool()>& sign);
    void send(int signal_number) const;
    /// Waits for its end.
    Ended end();

private:
    void listen(int milliseconds);
    void take(int& descriptor, std::string& text);
    bool late() const;

    Setup setup_;
    pid_t pid_ = -1;
    int out_ = -1, err_ = -1;
    double deadline_s_ = 0.0;
    Ended ended_;
};

Ended run(const Words& command_line, const Setup& setup = {});

/// The command under test, with a cache folder and a temporary folder of this test program's own.
Words command_line(Words arguments);
Setup own_folders(Setup setup = {});
Ended rakelight(const Words& arguments, const Setup& setup = {});

/// Where a program of the search path lies; empty when it is not installed.
std::string installed(const std::string& program);

/// For Setup::in_child: closes a descriptor; opens a file in its place; limits a resource.
std::function<void()> closing(int descriptor);
std::function<void()> onto(int descriptor, const std::string& file);

}  // namespace cli_test
