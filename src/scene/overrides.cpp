#include "scene/overrides.hpp"

#include <algorithm>

#include "error.hpp"
#include "scene/toml_text.hpp"
#include "scene/words.hpp"

namespace rakelight {

namespace scene_file {

namespace {

bool is_key_part(std::string_view part) {
    return !part.empty() && std::all_of(part.begin(), part.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               c == '_' || c == '-';
    });
}

[[noreturn]] void throw_wrong_use(const std::string& set, const std::string& found,
                                  const std::string& expected) {
    throw Error(ExitCode::wrong_use,
                "--set " + set + ": found " + found + "; expected " + expected);
}

/// "pose.yaw_deg" to {"pose", "yaw_deg"}.
std::vector<std::string> key_parts(const std::string& key, const std::string& set) {
    // The parser's own limit on keys, see first_text_fault.
    constexpr std::size_t most_parts = 16;
    std::vector<std::string> parts(1);
    for (const char c : key) {
        if (c == '.') {
            parts.emplace_back();
        } else {
            parts.back() += c;
        }
    }
    if (parts.size() > most_parts || !std::all_of(parts.begin(), parts.end(), is_key_part)) {
        throw_wrong_use(set, "the key " + shown(key), "a dotted key, as in pose.yaw_deg=25");
    }
    return parts;
}

/// Whether a value that is no TOML may be meant as a text without quotes: a word or a path. What
/// opens a string, an array or a table is a slip in that instead.
bool is_bare_word(std::string_view value) {
    constexpr std::string_view openers = "\"'[{";
    const auto is_control = [](char c) {
        return static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
    };
    return !value.empty() && openers.find(value.front()) == std::string_view::npos &&
           std::none_of(value.begin(), value.end(), is_control) &&
           valid_utf8_length(value) == value.size();
}

Node parse_value(const Override& set, int index, const Report& report) {
    try {
        Table table = parse_toml("value = " + set.value, {.override_index = index}, report);
        // More than one entry: the value went on to a line of its own.
        if (table.size() == 1 && table.front().key == "value") return std::move(table.front().node);
    } catch (const Error&) {
        if (is_bare_word(set.value)) {
            return {.value = set.value, .place = {.override_index = index}};
        }
    }
    throw_wrong_use(set.key + "=" + set.value,
                    set.value.empty() ? "no value" : "a value that is not TOML",
                    "a number, true, false, a text, an array or a table");
}

/// Puts `value` at the end of the path and returns true, or returns false where a part of the path
/// is already something other than a table.
bool put(Table& table, std::span<const std::string> path, Node value) {
    const Place place = value.place;
    Entry* entry = find(table, path.front());
    if (path.size() == 1) {
        if (!entry) entry = &table.emplace_back(Entry{path.front(), place, {}});
        // A key that the file has stays the file's: if there is no such key, that is its fault.
        entry->node = std::move(value);
        return true;
    }
    if (!entry) entry = &table.emplace_back(Entry{path.front(), place, {Table{}, place}});
    Table* inner = entry->node.table();
    return inner && put(*inner, path.subspan(1), std::move(value));
}

}  // namespace

void apply_overrides(Table& root, const std::vector<Override>& overrides, Report& report) {
    for (std::size_t i = 0; i < overrides.size(); ++i) {
        const Override& set = overrides[i];
        const int index = static_cast<int>(i);
        const auto path = key_parts(set.key, set.key + "=" + set.value);
        if (!put(root, path, parse_value(set, index, report))) {
            report.add({{.override_index = index},
                        "",
                        "a key inside of something that is not a table",
                        "a table on the way to the key",
                        ""});
        }
    }
}

}  // namespace scene_file

Override parse_override(const std::string& text) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
        scene_file::throw_wrong_use(text, equals == 0 ? "no key" : "no \"=\"",
                                    "KEY=VALUE, as in pose.yaw_deg=25");
    }
    return {text.substr(0, equals), text.substr(equals + 1)};
}

}  // namespace rakelight
