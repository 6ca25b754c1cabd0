#include "cli/terminal.hpp"

#include <unistd.h>

#include <cstdio>

namespace rakelight {

ProgressLine::ProgressLine(const TalkOptions& talk, std::size_t total)
    : shown_(!talk.quiet && isatty(STDERR_FILENO) == 1), total_(total) {}

ProgressLine::~ProgressLine() {
    clear();
}

void ProgressLine::show(std::size_t index, const std::string& scene, const std::string& step) {
    if (!shown_) return;
    constexpr std::size_t width = 20;
    const std::size_t full = total_ > 0 ? width * index / total_ : 0;
    const std::string bar = std::string(full, '=') + std::string(width - full, '.');
    std::fprintf(stderr, "\r\033[K[%s] %zu/%zu %s: %s", bar.c_str(), index + 1, total_,
                 scene.c_str(), step.c_str());
    std::fflush(stderr);
}

void ProgressLine::clear() {
    if (!shown_) return;
    std::fputs("\r\033[K", stderr);
    std::fflush(stderr);
}

void say_warnings(const TalkOptions& talk, const std::string& about,
                  const std::vector<std::string>& warnings) {
    if (talk.quiet) return;
    for (const auto& warning : warnings) {
        std::fprintf(stderr, "rakelight: warning: %s: %s\n", about.c_str(), warning.c_str());
    }
}

void say_verbose(const TalkOptions& talk, const std::string& remark) {
    if (talk.verbose) std::fprintf(stderr, "rakelight: %s\n", remark.c_str());
}

std::string size_text(double x, double y, int digits) {
    char text[80];
    std::snprintf(text, sizeof text, "%.*f x %.*f", digits, x, digits, y);
    return text;
}

std::string count_text(std::uint64_t count) {
    std::string digits = std::to_string(count);
    for (std::size_t at = digits.size(); at > 3; at -= 3) digits.insert(at - 3, ",");
    return digits;
}

}  // namespace rakelight
