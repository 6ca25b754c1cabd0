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
    std::fprintf(stderr, "\r\033[K[%s] %zu/%zu %s: %s", bar(index).c_str(), index + 1, total_,
                 scene.c_str(), step.c_str());
    std::fflush(stderr);
}

void ProgressLine::show_done(std::size_t done, const std::string& last, double seconds_left) {
    if (!shown_) return;
    const auto left = static_cast<long>(seconds_left + 0.5);
    std::fprintf(stderr, "\r\033[K[%s] %zu/%zu, %ld:%02ld left: %s", bar(done).c_str(), done,
                 total_, left / 60, left % 60, last.c_str());
    std::fflush(stderr);
}

std::string ProgressLine::bar(std::size_t done) const {
    constexpr std::size_t width = 20;
    const std::size_t full = total_ > 0 ? width * done / total_ : 0;
    return std::string(full, '=') + std::string(width - full, '.');
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
