#pragma once
// A scene file's values as a small tree that remembers where each one was written. It is what the
// TOML parser hands over: nothing behind this header knows the parser.

#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace rakelight::scene_file {

/// Where something was written: in the file, in the relief's recipe, in an override, or nowhere (a
/// default).
struct Place {
    int line = 0;             ///< from 1; 0: not in the file
    int column = 0;           ///< from 1, in characters, not bytes
    int override_index = -1;  ///< index of the override that wrote it; -1: none
    bool in_recipe = false;   ///< line and column are those of the recipe's file

    bool in_override() const { return override_index >= 0; }
    bool nowhere() const { return line == 0 && !in_override(); }
};

/// The file's order; then the recipe's; whatever an override brought in comes last.
bool operator<(const Place& a, const Place& b);

struct Entry;
using Table = std::vector<Entry>;

/// TOML's dates and times: no key wants one, so nothing but the fact is kept.
struct DateOrTime {};

struct Node {
    std::variant<Table, std::vector<Node>, std::string, std::int64_t, double, bool, DateOrTime>
        value;
    Place place{};  ///< of the value; of a table with a header: of its "["

    const Table* table() const { return std::get_if<Table>(&value); }
    Table* table() { return std::get_if<Table>(&value); }
    const std::vector<Node>* array() const { return std::get_if<std::vector<Node>>(&value); }
    const std::string* text() const { return std::get_if<std::string>(&value); }
};

struct Entry {
    std::string key;
    Place place{};  ///< of the key
    Node node{};
};

/// The entry of that key, or null.
Entry* find(Table& table, std::string_view key);
const Entry* find(const Table& table, std::string_view key);

/// The last place in the file that the node or anything in it has; of an override: the node's own.
Place last_place(const Node& node);

/// What stands there, for messages: `the text "38"`, `3.5`, `true`, `an array`, `a table`.
std::string described(const Node& node);

}  // namespace rakelight::scene_file
