#pragma once
// What goes to stderr: progress on a terminal, warnings, remarks.

#include <string>
#include <vector>

#include "cli/options.hpp"

namespace rakelight {

/// One line on a terminal that says what is being done, overwritten by the next; nothing at all
/// when stderr is no terminal, or the user wants quiet.
class ProgressLine {
public:
    ProgressLine(const TalkOptions& talk, std::size_t total);
    ~ProgressLine();
    ProgressLine(const ProgressLine&) = delete;
    ProgressLine& operator=(const ProgressLine&) = delete;
    /// @param index  of the scene at work, from 0
    void show(std::size_t index, const std::string& scene, const std::string& step);
    /// How many of them are done, which was the last, and how long the rest will take.
    void show_done(std::size_t done, const std::string& last, double seconds_left);
    void clear();

private:
    std::string bar(std::size_t done) const;
    bool shown_;
    std::size_t total_;
};

void say_warnings(const TalkOptions& talk, const std::string& about,
                  const std::vector<std::string>& warnings);

/// A remark that only --verbose shows.
void say_verbose(const TalkOptions& talk, const std::string& remark);

/// "12.3 x 4.5" with so many digits after the point.
std::string size_text(double x, double y, int digits);

/// 1234567 as "1,234,567".
std::string count_text(std::uint64_t count);

}  // namespace rakelight
