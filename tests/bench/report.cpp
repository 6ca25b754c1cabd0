#include "report.hpp"

#include <cmath>
#include <cstdio>
#include <fstream>
#include <stdexcept>

namespace bench {
namespace {

std::string row_text(const std::vector<std::string>& cells) {
    std::string line = "|";
    for (const auto& cell : cells) line += " " + cell + " |";
    return line + "\n";
}

std::string table_text(const std::vector<std::string>& columns,
                       const std::vector<std::vector<std::string>>& rows) {
    std::string text = row_text(columns) + "|";
    for (std::size_t i = 0; i < columns.size(); ++i) text += "---|";
    text += "\n";
    for (const auto& row : rows) text += row_text(row);
    return text;
}

std::vector<std::string> cells_of(const Figure& figure) {
    std::string reach = "-";
    if (figure.reach) {
        reach = (figure.at_least ? "at least " : "at most ") + text_of(*figure.reach, figure.unit);
    }
    return {figure.group,
            figure.what,
            text_of(figure.value, figure.unit),
            reach,
            !figure.reach  ? "-"
            : figure.met() ? "yes"
                           : "**no**",
            figure.how};
}

void write_file(const std::filesystem::path& path, const std::string& text) {
    std::ofstream file(path);
    file << text;
    file.close();
    if (!file) throw std::runtime_error(path.string() + " cannot be written");
}

}  // namespace

std::string text_of(double value, const std::string& unit) {
    char text[48];
    const double size = std::abs(value);
    const int digits = size >= 100.0 || size == 0.0 ? 0
                       : size >= 10.0               ? 1
                       : size >= 1.0                ? 2
                       : size >= 0.1                ? 3
                                                    : 4;
    std::snprintf(text, sizeof text, "%.*f", digits, value);
    return unit.empty() ? text : std::string(text) + " " + unit;
}

std::string time_text(double seconds) {
    return seconds < 1.0 ? text_of(1e3 * seconds, "ms") : text_of(seconds, "s");
}

std::string time_text(const Runs& runs) {
    return time_text(runs.median_s()) + " (" + time_text(runs.least_s()) + ")";
}

std::string by_cpu(double above_s, double below_s) {
    return "by processor time " + text_of(above_s / below_s, "x");
}

std::string Report::markdown() const {
    std::string text;
    for (const auto& note : notes_) text += "- " + note + "\n";
    std::vector<std::vector<std::string>> rows;
    for (const auto& figure : figures_) rows.push_back(cells_of(figure));
    text += "\n" + table_text({"group", "what", "measured", "reach", "met", "how"}, rows);
    for (const auto& table : tables_) {
        text += "\n### " + table.title + "\n\n";
        if (!table.text.empty()) text += table.text + "\n\n";
        text += table_text(table.columns, table.rows);
    }
    return text;
}

Json Report::json() const {
    Json figures = Json::array();
    for (const auto& f : figures_) {
        Json one = {{"group", f.group},
                    {"what", f.what},
                    {"value", f.value},
                    {"unit", f.unit},
                    {"how", f.how}};
        if (f.reach) {
            one[f.at_least ? "at_least" : "at_most"] = *f.reach;
            one["met"] = f.met();
        }
        figures.push_back(one);
    }
    return {{"notes", notes_}, {"figures", figures}, {"measured", data_}};
}

void Report::write(const std::filesystem::path& folder) const {
    write_file(folder / "bench.json", json().dump(2) + "\n");
    write_file(folder / "bench.md", markdown());
}

}  // namespace bench
