// A scene's tables as canonical text: keys in the alphabet's order, values as TOML writes them, so
// that neither layout nor comments nor the order of keys make another text.

#include <algorithm>
#include <array>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

void write(const Node& node, std::string& out);

void write_table(const Table& table, std::string& out) {
    std::vector<const Entry*> entries;
    for (const Entry& entry : table) entries.push_back(&entry);
    std::sort(entries.begin(), entries.end(),
              [](const Entry* a, const Entry* b) { return a->key < b->key; });
    out += '{';
    for (const Entry* entry : entries) {
        out += toml_string(entry->key) + '=';
        write(entry->node, out);
        out += ',';
    }
    out += '}';
}

struct Writer {
    std::string& out;
    void operator()(const Table& table) const { write_table(table, out); }
    void operator()(const std::vector<Node>& array) const {
        out += '[';
        for (const Node& item : array) {
            write(item, out);
            out += ',';
        }
        out += ']';
    }
    void operator()(const std::string& text) const { out += toml_string(text); }
    void operator()(std::int64_t number) const { out += toml_number(static_cast<double>(number)); }
    void operator()(double number) const { out += toml_number(number); }
    void operator()(bool truth) const { out += truth ? "true" : "false"; }
    void operator()(DateOrTime) const { out += "date"; }
};

void write(const Node& node, std::string& out) {
    std::visit(Writer{out}, node.value);
}

}  // namespace

std::string content_text(const Table& root) {
    constexpr std::array<std::string_view, 6> tables{"blank", "model", "framing",
                                                     "image", "pass",  "relief"};
    std::string text;
    for (const std::string_view name : tables) {
        const Entry* entry = find(root, name);
        text.append(name);
        if (entry) write(entry->node, text);
        text += '\n';
    }
    return text;
}

}  // namespace rakelight::scene_file
