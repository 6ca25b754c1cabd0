#include "scene/reader.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "scene/words.hpp"

namespace rakelight::scene_file {

bool Range::holds(double number) const {
    return std::isfinite(number) && (low_is_in ? number >= low : number > low) && number <= high;
}

std::string Range::text() const {
    std::string out;
    const bool has_high = std::isfinite(high);
    if (std::isfinite(low)) {
        const std::string number = number_text(low);
        out = !low_is_in ? "above " + number
              : has_high ? "from " + number
                         : "of at least " + number;
    }
    if (has_high) {
        out += out.empty() ? "of at most " : low_is_in ? " to " : " and at most ";
        out += number_text(high);
    }
    if (!unit.empty()) {
        if (!out.empty()) out += ", ";
        out.append("in ").append(unit);
    }
    return out;
}

namespace {

std::string with_range(std::string text, const Range& range) {
    const std::string limits = range.text();
    return limits.empty() ? text : text + ' ' + limits;
}

std::optional<double> as_number(const Node& node) {
    if (const auto* whole = std::get_if<std::int64_t>(&node.value)) {
        return static_cast<double>(*whole);
    }
    if (const auto* number = std::get_if<double>(&node.value)) return *number;
    return std::nullopt;
}

/// Whether a text is a number in quotes, the most common slip.
bool is_quoted_number(const Node& node) {
    const std::string* text = node.text();
    if (!text || text->empty()) return false;
    double number = 0.0;
    const char* end = text->data() + text->size();
    return std::from_chars(text->data(), end, number).ptr == end;
}

std::string number_hint(const Node& node) {
    return is_quoted_number(node) ? "Take the quotes away." : "";
}

/// Why a value is no usable text, or empty.
std::string text_fault(const Node& node) {
    const std::string* text = node.text();
    if (!text || text->empty()) return described(node);
    const bool control = std::any_of(text->begin(), text->end(), [](char c) {
        return static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
    });
    return control ? "a text with a control character, " + shown(*text) : "";
}

/// Reads an array of numbers; returns what is wrong, or empty.
std::string read_numbers(const Node& node, std::span<double> target, const Range& range) {
    const std::vector<Node>* array = node.array();
    if (!array || array->size() != target.size()) return described(node);
    for (std::size_t i = 0; i < target.size(); ++i) {
        const std::optional<double> number = as_number((*array)[i]);
        if (!number || !range.holds(*number)) {
            return described((*array)[i]) + " as number " + std::to_string(i + 1);
        }
        target[i] = *number;
    }
    return "";
}

struct Steps {
    double from = 0.0, to = 0.0, step = 0.0;
};

/// { from, to, step } and nothing else.
std::optional<Steps> as_steps(const Table& table) {
    Steps steps;
    const std::array<std::pair<std::string_view, double*>, 3> keys{
        {{"from", &steps.from}, {"to", &steps.to}, {"step", &steps.step}}};
    if (table.size() != keys.size()) return std::nullopt;
    for (const auto& [key, target] : keys) {
        const Entry* entry = find(table, key);
        const auto number = entry ? as_number(entry->node) : std::nullopt;
        if (!number || !std::isfinite(*number)) return std::nullopt;
        *target = *number;
    }
    if (steps.step <= 0.0 || steps.to < steps.from) return std::nullopt;
    return steps;
}

/// All values up to `to`. Sums of steps are rounded to a billionth, so that ten times 0.1 is 1.
std::vector<double> values_of(const Steps& steps) {
    constexpr double grain = 1e9;
    const double last = std::floor((steps.to - steps.from) / steps.step + 1e-9);
    std::vector<double> values;
    for (double i = 0.0; i <= std::min(last, double{most_values}); ++i)
        values.push_back(std::round((steps.from + i * steps.step) * grain) / grain + 0.0);
    return values;
}

/// The values of a node, or nothing where it has not the form of any.
std::optional<std::vector<double>> listed_values(const Node& node) {
    if (const auto number = as_number(node)) return std::vector<double>{*number};
    if (const Table* table = node.table()) {
        const auto steps = as_steps(*table);
        return steps ? std::optional(values_of(*steps)) : std::nullopt;
    }
    if (!node.array()) return std::nullopt;
    std::vector<double> values;
    for (const Node& item : *node.array()) {
        const auto number = as_number(item);
        if (!number) return std::nullopt;
        values.push_back(*number);
    }
    return values;
}

/// What keeps values from being used, or empty.
std::string values_fault(std::vector<double> values, const Range& range) {
    if (values.empty()) return "no value";
    if (values.size() > most_values) return "more than " + counted(most_values, "value");
    for (const double value : values) {
        if (!range.holds(value)) return number_text(value);
    }
    std::sort(values.begin(), values.end());
    const auto twice = std::adjacent_find(values.begin(), values.end());
    return twice == values.end() ? "" : number_text(*twice) + " twice";
}

}  // namespace

TableReader::TableReader(const Entry* entry, KeyName name, Report& report)
    : name_(std::move(name)), report_(report) {
    if (!entry) return;
    place_ = entry->node.place;
    last_ = last_place(entry->node);
    table_ = entry->node.table();
    broken_ = !table_;
    if (broken_) {
        report_.add({place_, name_.label(), described(entry->node), "a table",
                     name_.dotted.find('.') == std::string::npos
                         ? "It begins with a line " + name_.table_label() + "."
                         : ""});
    }
}

TableReader::TableReader(const Table& root, Report& report) : table_(&root), report_(report) {}

TableReader::TableReader(const Node& item, KeyName name, Report& report)
    : place_(item.place), last_(last_place(item)), name_(std::move(name)), report_(report) {
    table_ = item.table();
    broken_ = !table_;
}

const Node* TableReader::take(std::string_view key) {
    asked_.push_back(key);
    const Entry* entry = table_ ? find(*table_, key) : nullptr;
    return entry ? &entry->node : nullptr;
}

Found TableReader::sound(std::string_view key, const Node& node) const {
    return {name_ / key, node.place, Found::State::sound};
}

Found TableReader::faulty(std::string_view key, const Node& node, std::string found,
                          const std::string& expected, std::string hint) {
    const Found out{name_ / key, node.place, Found::State::faulty};
    report_.add({out.place, out.key.label(), std::move(found), expected, std::move(hint)});
    return out;
}

Found TableReader::number(std::string_view key, double& target, const Range& range) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const std::optional<double> number = as_number(*node);
    if (!number || !range.holds(*number)) {
        const bool finite = !number || std::isfinite(*number);
        return faulty(key, *node, described(*node),
                      with_range(finite ? "a number" : "a finite number", range),
                      number_hint(*node));
    }
    target = *number;
    return sound(key, *node);
}

Found TableReader::number(std::string_view key, std::optional<double>& target, const Range& range) {
    double number = 0.0;
    Found found = this->number(key, number, range);
    if (found.sound()) target = number;
    return found;
}

Found TableReader::whole(std::string_view key, int& target, int low, int high) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const auto* number = std::get_if<std::int64_t>(&node->value);
    if (!number || *number < low || *number > high) {
        return faulty(key, *node, described(*node),
                      "a whole number from " + std::to_string(low) + " to " + std::to_string(high),
                      number_hint(*node));
    }
    target = static_cast<int>(*number);
    return sound(key, *node);
}

Found TableReader::truth(std::string_view key, bool& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const bool* value = std::get_if<bool>(&node->value);
    if (!value) return faulty(key, *node, described(*node), "true or false");
    target = *value;
    return sound(key, *node);
}

Found TableReader::text(std::string_view key, std::string& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const std::string fault = text_fault(*node);
    if (!fault.empty()) return faulty(key, *node, fault, "a text in quotes");
    target = *node->text();
    return sound(key, *node);
}

Found TableReader::name_or_number(std::string_view key, std::string& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const auto* number = std::get_if<std::int64_t>(&node->value);
    const std::string fault = number ? (*number < 1 ? described(*node) : "") : text_fault(*node);
    if (!fault.empty())
        return faulty(key, *node, fault, "a name in quotes, or a whole number from 1");
    target = number ? std::to_string(*number) : *node->text();
    return sound(key, *node);
}

Found TableReader::numbers_by_name(std::string_view key, std::map<std::string, double>& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    constexpr std::string_view expected = "a table of names and numbers, as in { smile = 0.6 }";
    const Table* table = node->table();
    if (!table) return faulty(key, *node, described(*node), std::string(expected));
    for (const Entry& entry : *table) {
        const std::optional<double> number = as_number(entry.node);
        if (!number || !std::isfinite(*number))
            return faulty(key, entry.node, described(entry.node) + " for " + key_text(entry.key),
                          "a finite number for each name", number_hint(entry.node));
        target[entry.key] = *number;
    }
    return sound(key, *node);
}

Found TableReader::texts(std::string_view key, std::vector<std::string>& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    constexpr std::string_view expected = "an array of texts, as in [\"shell\", \"rib*\"]";
    const std::vector<Node>* array = node->array();
    if (!array) return faulty(key, *node, described(*node), std::string(expected));
    std::vector<std::string> read;
    for (const Node& item : *array) {
        const std::string fault = text_fault(item);
        if (!fault.empty()) return faulty(key, item, fault, std::string(expected));
        read.push_back(*item.text());
    }
    target = std::move(read);
    return sound(key, *node);
}

Found TableReader::numbers(std::string_view key, std::span<double> target, const Range& range,
                           std::string_view meaning) {
    const Node* node = take(key);
    if (!node) return absent(key);
    std::vector<double> read(target.size());
    const std::string fault = read_numbers(*node, read, range);
    if (!fault.empty()) {
        std::string expected = counted(target.size(), "number");
        expected.append(", ").append(meaning);
        return faulty(key, *node, fault, with_range(expected + ", each", range));
    }
    std::copy(read.begin(), read.end(), target.begin());
    return sound(key, *node);
}

Found TableReader::values(std::string_view key, std::vector<double>& target, const Range& range) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const std::string expected = with_range(
        "a number, an array of different numbers, or { from = ..., to = ..., step = ... } with a "
        "step above 0 and from no larger than to; each value",
        range);
    auto values = listed_values(*node);
    if (!values) return faulty(key, *node, described(*node), expected);
    const std::string fault = values_fault(*values, range);
    if (!fault.empty()) return faulty(key, *node, fault, expected);
    target = std::move(*values);
    return sound(key, *node);
}

Found TableReader::pairs(std::string_view key, std::vector<std::array<double, 2>>& target,
                         const Range& range) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const std::string expected = with_range("an array of pairs of numbers, each", range);
    const std::vector<Node>* array = node->array();
    if (!array || array->size() > most_values)
        return faulty(key, *node, described(*node), expected);
    std::vector<std::array<double, 2>> read(array->size());
    for (std::size_t i = 0; i < read.size(); ++i) {
        const std::string fault = read_numbers((*array)[i], read[i], range);
        if (!fault.empty()) return faulty(key, (*array)[i], fault, expected);
    }
    target = std::move(read);
    return sound(key, *node);
}

Found TableReader::rows(std::string_view key, std::array<double, 9>& target) {
    const Node* node = take(key);
    if (!node) return absent(key);
    constexpr std::string_view expected = "3 rows of 3 numbers";
    const std::vector<Node>* array = node->array();
    if (!array || array->size() != 3) {
        return faulty(key, *node, described(*node), std::string(expected));
    }
    std::array<double, 9> read{};
    for (std::size_t row = 0; row < 3; ++row) {
        const std::string fault =
            read_numbers((*array)[row], std::span(read).subspan(3 * row, 3), any_number);
        if (!fault.empty()) return faulty(key, (*array)[row], fault, std::string(expected));
    }
    target = read;
    return sound(key, *node);
}

Found TableReader::word_index(std::string_view key, std::size_t& index,
                              std::span<const std::string_view> names) {
    const Node* node = take(key);
    if (!node) return absent(key);
    const std::string* text = node->text();
    const auto at = text ? std::find(names.begin(), names.end(), *text) : names.end();
    if (at == names.end()) {
        const auto near = text ? nearest(*text, names) : std::nullopt;
        return faulty(key, *node, described(*node), either(names, "\""),
                      near ? "Did you mean \"" + std::string(*near) + "\"?" : "");
    }
    index = static_cast<std::size_t>(at - names.begin());
    return sound(key, *node);
}

TableReader TableReader::table(std::string_view key) {
    asked_.push_back(key);
    return TableReader(table_ ? find(*table_, key) : nullptr, name_ / key, report_);
}

std::vector<std::pair<std::string, TableReader>> TableReader::named_tables(std::string_view key) {
    std::vector<std::pair<std::string, TableReader>> readers;
    const TableReader all = table(key);
    if (!all.table_) return readers;
    for (const Entry& entry : *all.table_)
        readers.emplace_back(entry.key, TableReader(&entry, all.name_ / entry.key, report_));
    return readers;
}

std::vector<TableReader> TableReader::tables(std::string_view key) {
    std::vector<TableReader> readers;
    const Node* node = take(key);
    if (!node) return readers;
    const std::vector<Node>* array = node->array();
    const bool sound = array && std::all_of(array->begin(), array->end(),
                                            [](const Node& item) { return item.table(); });
    if (!sound) {
        const KeyName name = name_ / key;
        faulty(key, *node, described(*node),
               "an array of tables: each begins with a line [[" + name.dotted + "]]");
        return readers;
    }
    for (const Node& item : *array) readers.push_back(TableReader(item, name_ / key, report_));
    return readers;
}

Found TableReader::self() const {
    if (broken_) return {name_, place_, Found::State::faulty};
    return {name_, place_, table_ ? Found::State::sound : Found::State::absent};
}

void TableReader::need(Found& found, std::string_view expected, std::string_view hint,
                       const Found& because) {
    // In a table that is not there, or is none, that is the fault, and it is reported once.
    if (!found.absent() || !table_) return;
    const bool by_override = because.place.in_override();
    found.place = by_override ? because.place : place_;
    found.state = Found::State::faulty;
    report_.add_after(
        by_override ? because.place : last_,
        {found.place, found.key.label(), "nothing", std::string(expected), std::string(hint)});
}

void TableReader::finish() {
    if (!table_) return;
    const bool root = name_.dotted.empty();
    for (const Entry& entry : *table_) {
        if (std::find(asked_.begin(), asked_.end(), entry.key) != asked_.end()) continue;
        const bool is_table = root && entry.node.table();
        const std::string key = key_text(entry.key);
        const std::string label = is_table ? "[" + key + "]"
                                  : root   ? key
                                           : name_.table_label() + " " + key;
        const auto near = nearest(entry.key, asked_);
        std::string expected =
            root ? "one of the scene's tables" : "a key of " + name_.table_label();
        if (!near) expected += ": " + either(asked_, "");
        report_.add({entry.place, label, is_table ? "an unknown table" : "an unknown key", expected,
                     near ? "Did you mean " +
                                (is_table ? "[" + std::string(*near) + "]" : std::string(*near)) +
                                "?"
                          : ""});
    }
}

void misfit(Report& report, std::initializer_list<const Found*> keys, const std::string& found,
            const std::string& expected, const std::string& hint) {
    const Found* blamed = nullptr;
    for (const Found* key : keys) {
        if (key->faulty()) return;
        if (key->absent()) continue;
        const bool later_override = key->place.in_override() && blamed &&
                                    key->place.override_index > blamed->place.override_index;
        if (!blamed || later_override) blamed = key;
    }
    // Defaults fit each other, so one of the keys stands somewhere.
    if (blamed) report.add({blamed->place, blamed->key.label(), found, expected, hint});
}

}  // namespace rakelight::scene_file
