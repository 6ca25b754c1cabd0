#include "table.hpp"

#include <array>
#include <fstream>
#include <stdexcept>
#include <vector>

namespace corpus {
namespace {

struct Column {
    const char* name;
    std::string Row::*value;
};

constexpr std::array columns{Column{"file", &Row::file},
                             Column{"verdict", &Row::verdict},
                             Column{"format", &Row::format},
                             Column{"triangles", &Row::triangles},
                             Column{"up", &Row::up},
                             Column{"mm_per_unit", &Row::mm_per_unit},
                             Column{"exit_code", &Row::exit_code},
                             Column{"reason", &Row::reason},
                             Column{"note", &Row::note}};

std::string quoted(const std::string& value) {
    if (value.find_first_of(",\"\n") == std::string::npos) return value;
    std::string text = "\"";
    for (const char c : value) text += c == '"' ? std::string("\"\"") : std::string(1, c);
    return text + '"';
}

std::vector<std::string> values_of(const std::string& line) {
    std::vector<std::string> values(1);
    bool inside = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (inside && line[i] == '"' && i + 1 < line.size() && line[i + 1] == '"') {
            values.back() += line[++i];
        } else if (line[i] == '"') {
            inside = !inside;
        } else if (line[i] == ',' && !inside) {
            values.emplace_back();
        } else {
            values.back() += line[i];
        }
    }
    return values;
}

std::string header() {
    std::string line;
    for (const Column& c : columns) line += (line.empty() ? "" : ",") + std::string(c.name);
    return line;
}

}  // namespace

Table read_table(const std::filesystem::path& file) {
    std::ifstream in(file);
    std::string line;
    if (!std::getline(in, line) || line != header())
        throw std::runtime_error(file.string() + ": the first line is not \"" + header() + "\"");
    Table table;
    while (std::getline(in, line)) {
        const auto values = values_of(line);
        if (values.size() != columns.size())
            throw std::runtime_error(file.string() + ": not " + std::to_string(columns.size()) +
                                     " values: " + line);
        Row row;
        for (std::size_t i = 0; i < columns.size(); ++i) row.*columns[i].value = values[i];
        table[row.file] = row;
    }
    return table;
}

void write_table(const std::filesystem::path& file, const Table& table) {
    std::ofstream out(file);
    out << header() << '\n';
    for (const auto& [name, row] : table) {
        std::string line;
        for (const Column& c : columns)
            line += (&c == columns.begin() ? "" : ",") + quoted(row.*c.value);
        out << line << '\n';
    }
    out.close();
    if (!out) throw std::runtime_error(file.string() + " cannot be written");
}

std::string difference(const Row& expected, const Row& found) {
    std::string words;
    for (const Column& c : columns) {
        if (c.value == &Row::note || expected.*c.value == found.*c.value) continue;
        words += std::string(words.empty() ? "" : "; ") + c.name + ": the table has \"" +
                 expected.*c.value + "\", the command says \"" + found.*c.value + '"';
    }
    return words;
}

}  // namespace corpus
