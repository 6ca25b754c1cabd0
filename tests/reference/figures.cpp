#include "figures.hpp"

#include <cstdio>

#include "support.hpp"

namespace reference {
namespace {

std::string target_text(const Figure& figure) {
    if (!figure.target) return "";
    return (figure.at_least ? ">= " : "<= ") + number_text(*figure.target);
}

std::string line(const Row& cells) {
    std::string text = "|";
    for (const auto& cell : cells) text += " " + cell + " |";
    return text + "\n";
}

std::string markdown(const Table& table) {
    std::string text = table.title.empty() ? "" : "\n## " + table.title + "\n\n";
    text += line(table.heads) + "|";
    for (std::size_t i = 0; i < table.heads.size(); ++i) text += "---|";
    text += "\n";
    for (const auto& row : table.rows) text += line(row);
    return text;
}

Table figure_table(const Report& report) {
    Table table{"", {"area", "figure", "source", "reached", "target", "met", "worst at"}, {}};
    for (const auto& figure : report.figures) {
        table.rows.push_back({figure.area, figure.what, figure.source, number_text(figure.reached),
                              target_text(figure),
                              !figure.target ? "" : (figure.met() ? "yes" : "**no**"),
                              figure.where});
    }
    return table;
}

nlohmann::json json_of(const Figure& figure) {
    nlohmann::json json{{"area", figure.area},
                        {"figure", figure.what},
                        {"source", figure.source},
                        {"reached", figure.reached},
                        {"worst_at", figure.where}};
    if (figure.target) {
        json["target"] = *figure.target;
        json["target_is"] = figure.at_least ? "at least" : "at most";
        json["met"] = figure.met();
    }
    return json;
}

}  // namespace

std::string number_text(double value) {
    char text[40];
    std::snprintf(text, sizeof text, "%.4g", value);
    return text;
}

void write_report(const Report& report, const std::filesystem::path& folder) {
    std::string text = "# Accuracy\n\n" + markdown(figure_table(report));
    for (const auto& table : report.tables) text += markdown(table);
    if (!report.pictures.empty()) text += "\n## Worst differences\n\n";
    for (const auto& picture : report.pictures) text += "![" + picture + "](" + picture + ")\n\n";
    for (const auto& note : report.notes) text += note + "\n";
    cli_test::write_file(folder / "accuracy.md", text);
    nlohmann::json json{{"figures", nlohmann::json::array()},
                        {"views", report.views},
                        {"pictures", report.pictures},
                        {"notes", report.notes}};
    for (const auto& figure : report.figures) json["figures"].push_back(json_of(figure));
    cli_test::write_file(folder / "accuracy.json", json.dump(1) + "\n");
}

}  // namespace reference
