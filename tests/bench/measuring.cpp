#include "measuring.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <stdexcept>

namespace bench {
namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

double seconds_of(const timeval& time) {
    return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
}

double cpu_of(const rusage& usage) {
    return seconds_of(usage.ru_utime) + seconds_of(usage.ru_stime);
}

double median(std::vector<double> values) {
    if (values.empty()) return 0.0;
    std::sort(values.begin(), values.end());
    const std::size_t half = values.size() / 2;
    return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

template <typename Of>
std::vector<double> each(const std::vector<Cost>& costs, Of Cost::*member) {
    std::vector<double> values;
    for (const auto& cost : costs) values.push_back(cost.*member);
    return values;
}

/// A pipe whose ends close by themselves.
struct Pipe {
    int ends[2] = {-1, -1};
    Pipe() {
        if (pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("no pipe to be had");
    }
    Pipe(const Pipe&) = delete;
    Pipe& operator=(const Pipe&) = delete;
    ~Pipe() {
        close_end(0);
        close_end(1);
    }
    void close_end(int end) {
        if (ends[end] >= 0) close(ends[end]);
        ends[end] = -1;
    }
    std::string read_all() {
        close_end(1);
        std::string text;
        char piece[65536];
        for (ssize_t n; (n = read(ends[0], piece, sizeof piece)) > 0;) {
            text.append(piece, static_cast<std::size_t>(n));
        }
        return text;
    }
    void write_all(const std::string& text) {
        for (std::size_t at = 0; at < text.size();) {
            const ssize_t n = write(ends[1], text.data() + at, text.size() - at);
            if (n <= 0) return;
            at += static_cast<std::size_t>(n);
        }
    }
};

pid_t fork_child() {
    std::fflush(nullptr);
    const pid_t child = fork();
    if (child < 0) throw std::runtime_error("no process to be had");
    return child;
}

/// @param what  for the message
rusage wait_for(pid_t child, const std::string& what) {
    int status = 0;
    rusage usage{};
    wait4(child, &status, 0, &usage);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0) return usage;
    throw std::runtime_error(what + (WIFSIGNALED(status)
                                         ? " died of signal " + std::to_string(WTERMSIG(status))
                                         : " ended with " + std::to_string(WEXITSTATUS(status))));
}

[[noreturn]] void become(const Words& words, int output) {
    dup2(output, STDOUT_FILENO);
    std::vector<char*> arguments;
    for (const auto& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    execvp(arguments[0], arguments.data());
    std::perror(arguments[0]);
    _exit(127);
}

std::string line_of(const Words& words) {
    std::string line;
    for (const auto& word : words) line += (line.empty() ? "" : " ") + word;
    return line;
}

}  // namespace

double Runs::median_s() const {
    return median(each(costs_, &Cost::wall_s));
}
double Runs::median_cpu_s() const {
    return median(each(costs_, &Cost::cpu_s));
}

double Runs::least_s() const {
    const auto walls = each(costs_, &Cost::wall_s);
    return walls.empty() ? 0.0 : *std::min_element(walls.begin(), walls.end());
}

double Runs::peak_mib() const {
    const auto peaks = each(costs_, &Cost::peak_mib);
    return peaks.empty() ? 0.0 : *std::max_element(peaks.begin(), peaks.end());
}

Json Runs::json() const {
    return {{"runs", count()},
            {"median_s", median_s()},
            {"least_s", least_s()},
            {"median_cpu_s", median_cpu_s()},
            {"peak_mib", peak_mib()}};
}

std::vector<Runs> in_turn(int runs, const std::vector<Measured>& works) {
    std::vector<Runs> all(works.size());
    for (int run = 0; run < runs; ++run) {
        for (std::size_t i = 0; i < works.size(); ++i) all[i].add(works[i]());
    }
    return all;
}

Cost command_cost(const Words& words) {
    const auto start = Clock::now();
    const pid_t child = fork_child();
    if (child == 0) become(words, open("/dev/null", O_WRONLY | O_CLOEXEC));
    const rusage usage = wait_for(child, line_of(words));
    return {seconds_since(start), cpu_of(usage), static_cast<double>(usage.ru_maxrss) / 1024.0};
}

std::string command_output(const Words& words) {
    Pipe pipe;
    const pid_t child = fork_child();
    if (child == 0) become(words, pipe.ends[1]);
    const std::string text = pipe.read_all();
    wait_for(child, line_of(words));
    return text;
}

Cost child_cost(const std::function<void()>& work) {
    const auto start = Clock::now();
    const pid_t child = fork_child();
    if (child == 0) {
        try {
            work();
        } catch (const std::exception& error) {
            std::fprintf(stderr, "%s\n", error.what());
            _exit(1);
        }
        _exit(0);
    }
    const rusage usage = wait_for(child, "a measured child");
    return {seconds_since(start), cpu_of(usage), static_cast<double>(usage.ru_maxrss) / 1024.0};
}

Cost cost_here(const std::function<void()>& work) {
    rusage before{}, after{};
    getrusage(RUSAGE_SELF, &before);
    const auto start = Clock::now();
    work();
    const double wall_s = seconds_since(start);
    getrusage(RUSAGE_SELF, &after);
    return {wall_s, cpu_of(after) - cpu_of(before), 0.0};
}

Json in_child(const std::function<Json()>& work) {
    Pipe pipe;
    const pid_t child = fork_child();
    if (child == 0) {
        Json answer;
        try {
            answer["answer"] = work();
        } catch (const std::exception& error) {
            answer = Json{{"error", error.what()}};
        }
        pipe.write_all(answer.dump());
        std::fflush(nullptr);
        _exit(0);  // no destructors: drivers and thread pools end with the process
    }
    const std::string text = pipe.read_all();
    wait_for(child, "a measured child");
    const Json answer = Json::parse(text);
    if (answer.contains("error")) throw std::runtime_error(answer["error"].get<std::string>());
    return answer["answer"];
}

}  // namespace bench
