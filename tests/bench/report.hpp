#pragma once
// The report: ratios first, then tables; as JSON and as Markdown that docs/performance.md quotes.

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "measuring.hpp"

namespace bench {

/// One figure beside what it should reach.
struct Figure {
    std::string group;  ///< "render", "import" ...
    std::string what;
    double value = 0.0;
    std::string unit;             ///< "x", "s", "MiB" ...; may be empty
    std::optional<double> reach;  ///< empty: there is nothing to reach
    bool at_least = false;        ///< the reach is a lower bound
    std::string how;              ///< what stands behind it: both sides of a ratio

    bool met() const { return !reach || (at_least ? value >= *reach : value <= *reach); }
};

struct Table {
    std::string title;
    std::string text;  ///< below the title; may be empty
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;
};

class Report {
public:
    void add(const Figure& figure) { figures_.push_back(figure); }
    void add(const Table& table) { tables_.push_back(table); }
    /// All that was measured, for programs.
    void keep(const std::string& name, const Json& data) { data_[name] = data; }
    void note(const std::string& text) { notes_.push_back(text); }
    const Json& data() const { return data_; }

    /// Writes bench.json and bench.md into the folder. Throws std::runtime_error.
    void write(const std::filesystem::path& folder) const;
    std::string markdown() const;

private:
    Json json() const;

    std::vector<Figure> figures_;
    std::vector<Table> tables_;
    std::vector<std::string> notes_;
    Json data_ = Json::object();
};

/// Three significant digits and the unit.
std::string text_of(double value, const std::string& unit = "");
/// Milliseconds or seconds, whichever reads better.
std::string time_text(double seconds);
/// "median (least)" of the runs.
std::string time_text(const Runs& runs);

/// "by processor time 1.2 x": what a busy machine changes less than wall time.
std::string by_cpu(double above_s, double below_s);

}  // namespace bench
