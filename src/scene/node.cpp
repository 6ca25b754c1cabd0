#include "scene/node.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

#include "scene/words.hpp"

namespace rakelight::scene_file {

bool operator<(const Place& a, const Place& b) {
    return std::tie(a.override_index, a.in_recipe, a.line, a.column) <
           std::tie(b.override_index, b.in_recipe, b.line, b.column);
}

const Entry* find(const Table& table, std::string_view key) {
    const auto found = std::find_if(table.begin(), table.end(),
                                    [key](const Entry& entry) { return entry.key == key; });
    return found == table.end() ? nullptr : &*found;
}

Entry* find(Table& table, std::string_view key) {
    return const_cast<Entry*>(find(std::as_const(table), key));
}

Place last_place(const Node& node) {
    Place last = node.place;
    if (last.in_override()) return last;
    const auto take = [&last](const Place& place) {
        if (!place.in_override() && last < place) last = place;
    };
    if (const Table* table = node.table()) {
        for (const Entry& entry : *table) {
            take(entry.place);
            take(last_place(entry.node));
        }
    }
    if (const std::vector<Node>* array = node.array()) {
        for (const Node& item : *array) take(last_place(item));
    }
    return last;
}

namespace {

struct Describe {
    std::string operator()(const Table&) const { return "a table"; }
    std::string operator()(const std::vector<Node>& array) const {
        const bool tables = !array.empty() && array.front().table();
        if (array.empty()) return "an empty array";
        return tables ? "an array of tables" : "an array of " + counted(array.size(), "value");
    }
    std::string operator()(const std::string& text) const {
        return text.empty() ? "an empty text" : "the text " + shown(text);
    }
    std::string operator()(std::int64_t number) const { return std::to_string(number); }
    std::string operator()(double number) const { return toml_number(number); }
    std::string operator()(bool truth) const { return truth ? "true" : "false"; }
    std::string operator()(DateOrTime) const { return "a date or time"; }
};

}  // namespace

std::string described(const Node& node) {
    return std::visit(Describe{}, node.value);
}

}  // namespace rakelight::scene_file
