#pragma once
// What a run found, one figure each, and the report that they go into.

#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace reference {

struct Figure {
    std::string area;    ///< depth, occlusion ...
    std::string what;    ///< what was measured, over what
    std::string source;  ///< the outside reference
    double reached = 0.0;
    std::optional<double> target{};  ///< none: for information
    bool at_least = false;           ///< the target is a floor rather than a ceiling
    std::string where{};             ///< the model or view that is worst

    bool met() const { return !target || (at_least ? reached >= *target : reached <= *target); }
};

/// A line of the table of models.
using Row = std::vector<std::string>;
struct Table {
    std::string title;
    Row heads;
    std::vector<Row> rows;
};

struct Report {
    std::vector<Figure> figures;
    std::vector<Table> tables;
    nlohmann::json views = nlohmann::json::array();
    std::vector<std::string> pictures;  ///< files beside the report
    std::vector<std::string> notes;     ///< in words: what was left out
};

std::string number_text(double value);
/// Writes accuracy.json and accuracy.md into a folder.
void write_report(const Report& report, const std::filesystem::path& folder);

}  // namespace reference
