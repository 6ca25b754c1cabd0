#include "cli/pose_options.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <charconv>

#include "error.hpp"

namespace rakelight {
namespace {

struct Range {
    std::string_view option;
    std::string_view key;
    std::string PoseRanges::*text;
    const char* meaning;
};

constexpr std::array<Range, 5> ranges_of_a_pose{{
    {"--yaw", "yaw_deg", &PoseRanges::yaw, "Turns about the up axis to try, degrees"},
    {"--pitch", "pitch_deg", &PoseRanges::pitch, "Tips towards the viewer to try, degrees"},
    {"--roll", "roll_deg", &PoseRanges::roll, "Turns as seen to try, degrees"},
    {"--view", "view_deg", &PoseRanges::view, "Angles of view to try, degrees (perspective)"},
    {"--zoom", "zoom", &PoseRanges::zoom, "Sizes to try, in proportion to the fit's"},
}};

bool is_number(std::string_view text) {
    double number = 0.0;
    const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), number);
    return fault == std::errc() && end == text.data() + text.size();
}

std::vector<std::string> split(const std::string& text, const std::string& separator) {
    std::vector<std::string> pieces;
    std::size_t from = 0;
    for (std::size_t at = 0; at != std::string::npos; from = at + separator.size()) {
        at = text.find(separator, from);
        pieces.push_back(text.substr(from, at == std::string::npos ? at : at - from));
    }
    return pieces;
}

// "-60..60/20" to its three numbers, or nothing.
std::vector<std::string> steps_of(const std::string& text) {
    const auto ends = split(text, "..");
    if (ends.size() != 2) return {};
    const auto rest = split(ends[1], "/");
    if (rest.size() != 2) return {};
    return {ends[0], rest[0], rest[1]};
}

}  // namespace

bool PoseRanges::any() const {
    return std::any_of(ranges_of_a_pose.begin(), ranges_of_a_pose.end(),
                       [this](const Range& range) { return !(this->*range.text).empty(); });
}

void add_pose_ranges(CLI::App& command, PoseRanges& ranges) {
    for (const Range& range : ranges_of_a_pose) {
        command.add_option(std::string(range.option), ranges.*range.text, range.meaning)
            ->type_name("VALUES");
    }
}

std::string toml_values(std::string_view option, const std::string& text) {
    const auto numbers = [](const std::vector<std::string>& texts) {
        return !texts.empty() && std::all_of(texts.begin(), texts.end(), is_number);
    };
    if (const auto steps = steps_of(text); numbers(steps))
        return "{ from = " + steps[0] + ", to = " + steps[1] + ", step = " + steps[2] + " }";
    if (numbers(split(text, ","))) return "[" + text + "]";
    throw Error(ExitCode::wrong_use, std::string(option) + ": found \"" + text +
                                         "\"; expected a number, numbers as in 0,15,30, or a "
                                         "range as in -60..60/20 (from, to, step)");
}

std::vector<Override> pose_overrides(const PoseRanges& ranges) {
    if (!ranges.any()) return {};
    std::vector<Override> overrides{{"poses", "{}"}};
    for (const Range& range : ranges_of_a_pose) {
        const std::string& text = ranges.*range.text;
        if (text.empty()) continue;
        overrides.push_back({"poses." + std::string(range.key), toml_values(range.option, text)});
    }
    return overrides;
}

Shard parse_shard(const std::string& text) {
    const auto pieces = split(text, "/");
    Shard shard;
    const auto read = [](const std::string& digits, std::size_t& number) {
        const char* end = digits.data() + digits.size();
        const auto [at, fault] = std::from_chars(digits.data(), end, number);
        return fault == std::errc() && at == end;
    };
    if (pieces.size() == 2 && read(pieces[0], shard.number) && read(pieces[1], shard.of) &&
        shard.number >= 1 && shard.number <= shard.of)
        return shard;
    throw Error(ExitCode::wrong_use,
                "--shard: found \"" + text + "\"; expected K/N with K from 1 to N, as in 2/5");
}

}  // namespace rakelight
