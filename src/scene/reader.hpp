#pragma once
// A typed reader over one table of a scene file. A section reads as the list of its keys; whatever
// is not asked for by the end is an unknown key.

#include <array>
#include <initializer_list>
#include <limits>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "scene/node.hpp"
#include "scene/report.hpp"

namespace rakelight::scene_file {

/// The numbers that a key takes, and their unit for messages. Infinity and NaN are never taken.
struct Range {
    double low = -std::numeric_limits<double>::infinity();
    double high = std::numeric_limits<double>::infinity();
    bool low_is_in = true;
    std::string_view unit{};

    constexpr Range up_to(double most) const {
        Range range = *this;
        range.high = most;
        return range;
    }
    constexpr Range in(std::string_view name) const {
        Range range = *this;
        range.unit = name;
        return range;
    }
    bool holds(double number) const;
    /// "above 0 and at most 2000, in mm"; empty when any finite number will do.
    std::string text() const;
};
constexpr Range any_number{};
constexpr Range above(double low) {
    return {.low = low, .low_is_in = false};
}
constexpr Range at_least(double low) {
    return {.low = low};
}

/// Values that one key may list.
constexpr std::size_t most_values = 10000;

/// A word and what it stands for.
template <typename T>
struct Word {
    std::string_view name;
    T value;
};

/// What came of reading one key: enough to blame it later when it does not fit another one.
struct Found {
    enum class State { absent, sound, faulty };
    KeyName key{};
    Place place{};
    State state = State::absent;

    bool absent() const { return state == State::absent; }
    bool faulty() const { return state == State::faulty; }
    bool sound() const { return state == State::sound; }
};

/// Reads the keys of one table. A key that is absent or faulty leaves its target as it is, at the
/// default; a fault goes to the report.
class TableReader {
public:
    /// @param entry  the table's entry, or null when the file has no such table; a value that is
    ///               no table is reported and read as an empty one
    TableReader(const Entry* entry, KeyName name, Report& report);
    /// The file's root.
    TableReader(const Table& root, Report& report);
    /// One table of an array.
    TableReader(const Node& item, KeyName name, Report& report);

    Found number(std::string_view key, double& target, const Range& range);
    Found number(std::string_view key, std::optional<double>& target, const Range& range);
    /// A TOML integer, low to high, both included.
    Found whole(std::string_view key, int& target, int low, int high);
    Found truth(std::string_view key, bool& target);
    /// A text that is not empty and has no control characters.
    Found text(std::string_view key, std::string& target);
    /// Such a text, or a whole number from 1, which is written down in digits.
    Found name_or_number(std::string_view key, std::string& target);
    /// An array of such texts.
    Found texts(std::string_view key, std::vector<std::string>& target);
    /// An array of as many numbers as `target` holds.
    Found numbers(std::string_view key, std::span<double> target, const Range& range,
                  std::string_view meaning);
    /// A table of finite numbers, whose keys are names of the model's.
    Found numbers_by_name(std::string_view key, std::map<std::string, double>& target);
    /// A number, an array of numbers, or { from, to, step }, which stands for from, from + step ...
    /// as far as to; at most most_values of them, none twice.
    Found values(std::string_view key, std::vector<double>& target, const Range& range);
    /// An array of pairs of numbers.
    Found pairs(std::string_view key, std::vector<std::array<double, 2>>& target,
                const Range& range);
    /// Three rows of three numbers, row by row.
    Found rows(std::string_view key, std::array<double, 9>& target);
    template <typename T, std::size_t N>
    Found word(std::string_view key, T& target, const std::array<Word<T>, N>& words) {
        std::array<std::string_view, N> names;
        for (std::size_t i = 0; i < N; ++i) names[i] = words[i].name;
        std::size_t index = 0;
        const Found found = word_index(key, index, names);
        if (found.sound()) target = words[index].value;
        return found;
    }
    template <typename T, std::size_t N>
    Found word(std::string_view key, std::optional<T>& target,
               const std::array<Word<T>, N>& words) {
        T read{};
        const Found found = word(key, read, words);
        if (found.sound()) target = read;
        return found;
    }
    /// One of `names`, by its place among them; they may be made for this file.
    Found word_index(std::string_view key, std::size_t& index,
                     std::span<const std::string_view> names);
    TableReader table(std::string_view key);
    /// All tables in the table `key`, each under a name of the file's own.
    std::vector<std::pair<std::string, TableReader>> named_tables(std::string_view key);
    /// The tables of an array, as `[[poses.named]]` writes it.
    std::vector<TableReader> tables(std::string_view key);

    /// Reports `found` as missing when it is absent, and makes it faulty.
    /// @param expected  what belongs there, as in: a width, as in width_mm = 38.0
    /// @param because   the key whose value asks for this one; blamed if an override wrote it
    void need(Found& found, std::string_view expected, std::string_view hint = "",
              const Found& because = {});
    /// Reports every key that was not asked for.
    void finish();

    /// Whether the table is there; a value that is no table counts as absent.
    bool present() const { return table_ != nullptr; }
    /// Whether it is there and has no key at all.
    bool empty() const { return table_ && table_->empty(); }
    Found self() const;

private:
    const Node* take(std::string_view key);
    Found absent(std::string_view key) const { return {.key = name_ / key}; }
    Found sound(std::string_view key, const Node& node) const;
    Found faulty(std::string_view key, const Node& node, std::string found,
                 const std::string& expected, std::string hint = "");

    const Table* table_ = nullptr;
    Place place_;          ///< of the table
    Place last_;           ///< of the last thing in it
    bool broken_ = false;  ///< stands there, but is no table
    KeyName name_;
    std::vector<std::string_view> asked_;
    Report& report_;
};

/// Reports that keys do not fit each other. Nothing happens when one of them is faulty already.
/// Blamed is the last override among them, else the first that stands in the file.
void misfit(Report& report, std::initializer_list<const Found*> keys, const std::string& found,
            const std::string& expected, const std::string& hint = "");

}  // namespace rakelight::scene_file
