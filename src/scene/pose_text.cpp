#include "scene/pose_text.hpp"

#include <vector>

#include "error.hpp"
#include "scene/report.hpp"
#include "scene/table_text.hpp"
#include "scene/toml_text.hpp"
#include "scene/words.hpp"

namespace rakelight {

namespace {

using namespace scene_file;

struct KeyValue {
    std::string_view key;
    std::string value;  ///< as TOML
};

void add_number(std::vector<KeyValue>& keys, std::string_view key, double now, double wanted) {
    if (now != wanted) keys.push_back({key, toml_number(wanted)});
}

std::vector<KeyValue> pose_keys(const PoseSettings& now, const PoseSettings& wanted) {
    std::vector<KeyValue> keys;
    add_number(keys, "yaw_deg", now.yaw_deg, wanted.yaw_deg);
    add_number(keys, "pitch_deg", now.pitch_deg, wanted.pitch_deg);
    add_number(keys, "roll_deg", now.roll_deg, wanted.roll_deg);
    const bool parallel = wanted.projection == Projection::parallel;
    if (now.projection != wanted.projection)
        keys.push_back({"projection", parallel ? "\"parallel\"" : "\"perspective\""});
    if (!parallel) add_number(keys, "view_deg", now.view_deg, wanted.view_deg);
    return keys;
}

/// Whether a statement is that key's: `key = ...`, the key bare or in quotes.
bool is_key(std::string_view statement, std::string_view key) {
    std::string name;
    for (const char c : statement.substr(0, statement.find('='))) {
        if (c != ' ' && c != '\t' && c != '"' && c != '\'') name += c;
    }
    return name == key;
}

/// Replaces what stands between the equals sign and the comment or the end. The values of these
/// keys are numbers and single words, so that the first blank or # ends them.
std::string with_value(std::string_view statement, const std::string& value) {
    const std::size_t begin = statement.find_first_not_of(" \t", statement.find('=') + 1);
    const std::size_t end = std::min(statement.find_first_of(" \t#\r", begin), statement.size());
    return std::string(statement.substr(0, begin)) + value + std::string(statement.substr(end));
}

std::string with_key(const std::string& text, std::string_view table, const KeyValue& set) {
    const auto lines = find_table_lines(text, table);
    if (!lines) {
        return with_table_at_end(text, "[" + std::string(table) + "]" +
                                           std::string(line_end_of(text)) + std::string(set.key) +
                                           " = " + set.value);
    }
    for (const Statement& one : lines->keys) {
        const std::string_view statement =
            std::string_view(text).substr(one.begin, one.end - one.begin);
        if (!is_key(statement, set.key)) continue;
        return text.substr(0, one.begin) + with_value(statement, set.value) + text.substr(one.end);
    }
    return text.substr(0, lines->end) + std::string(line_end_of(text)) + std::string(set.key) +
           " = " + set.value + text.substr(lines->end);
}

/// An inline table or dotted keys cannot be edited line by line.
void check_form(const std::string& text, std::string_view table,
                const std::filesystem::path& path) {
    const std::vector<Override> none;
    const Report wording(path, none);
    const Table root = parse_toml(text, {}, wording);
    const Entry* entry = find(root, table);
    if (!entry || find_table_lines(text, table)) return;
    const std::string header = "[" + std::string(table) + "]";
    throw Error(ExitCode::bad_scene,
                wording.message({entry->place, header, "a table written inline or by dotted keys",
                                 "a table with a header line " + header,
                                 "Write it so, and take the pose over again."}));
}

std::string with_keys(std::string text, std::string_view table, const std::vector<KeyValue>& keys,
                      const std::filesystem::path& path) {
    if (keys.empty()) return text;
    check_form(text, table, path);
    for (const KeyValue& key : keys) text = with_key(text, table, key);
    return text;
}

}  // namespace

std::string with_pose(const std::string& text, const Scene& scene, const PoseCandidate& candidate,
                      const std::filesystem::path& path) {
    std::vector<KeyValue> framing;
    add_number(framing, "zoom", scene.framing.zoom, candidate.zoom);
    return with_keys(with_keys(text, "pose", pose_keys(scene.pose, candidate.pose), path),
                     "framing", framing, path);
}

}  // namespace rakelight
