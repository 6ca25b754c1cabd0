// docs/scene-file.md is the reference: its examples parse, its tables list exactly the keys that
// there are, and its defaults are the program's. docs/mixing.md shows the built-in recipes.

#include <algorithm>
#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

std::string page_text(const std::string& page = "scene-file.md") {
    std::ifstream file(RAKELIGHT_DOCS "/" + page, std::ios::binary);
    REQUIRE(file.is_open());
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> lines;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

/// The page's blocks in that language.
std::vector<std::string> blocks(const std::string& language,
                                const std::string& page = "scene-file.md") {
    std::vector<std::string> found;
    bool inside = false;
    for (const std::string& line : lines_of(page_text(page))) {
        if (inside && line == "```")
            inside = false;
        else if (inside)
            found.back() += line + "\n";
        else if (line == "```" + language) {
            inside = true;
            found.emplace_back();
        }
    }
    return found;
}

/// An example with the tables that every scene must have.
std::string completed(std::string example) {
    if (!contains(example, "[blank]\n")) example += "[blank]\n";
    if (!contains(example, "[model]\n")) example += "[model]\nfile = 'a'\n";
    return example;
}

struct Row {
    std::string key;
    std::string fallback;  ///< as TOML; empty where the page gives none
};

std::string between(const std::string& text, const std::string& open, const std::string& close) {
    const std::size_t begin = text.find(open);
    if (begin == std::string::npos) return "";
    const std::size_t from = begin + open.size();
    const std::size_t end = text.find(close, from);
    return end == std::string::npos ? "" : text.substr(from, end - from);
}

/// `text` split at each `separator`.
std::vector<std::string> split(const std::string& text, const std::string& separator) {
    std::vector<std::string> pieces;
    std::size_t from = 0;
    for (std::size_t at = 0; at != std::string::npos; from = at + separator.size()) {
        at = text.find(separator, from);
        pieces.push_back(text.substr(from, at == std::string::npos ? at : at - from));
    }
    return pieces;
}

/// A line `| key | type | unit | range | default | meaning |`.
Row row_of(const std::string& line) {
    const std::vector<std::string> cells = split(line, "|");
    CAPTURE(line);
    // The line begins and ends with a bar: an empty piece on each side.
    REQUIRE(cells.size() == 8);
    return {between(cells[1], "`", "`"), between(cells[5], "`", "`")};
}

/// The reference's tables: "pass.depth" to its rows.
std::map<std::string, std::vector<Row>> reference() {
    std::map<std::string, std::vector<Row>> tables;
    std::string table;
    for (const std::string& line : lines_of(page_text())) {
        if (line.starts_with("## [") || line.starts_with("### [")) {
            table = between(line, "[", "]");
            tables[table];
        }
        if (line.starts_with("| `")) tables[table].push_back(row_of(line));
    }
    return tables;
}

/// The keys that the program knows in a table: what it lists when nothing is near.
std::set<std::string> known_keys(const std::string& table) {
    const bool in_array = table == "poses.named" || table == "relief.layer";
    const std::string header = in_array ? "[[" + table + "]]" : "[" + table + "]";
    const std::string message = fault_of(header + "\nqqqqqqqqqq = 1\n");
    const std::string list = between(message + "\n", "a key of [" + table + "]: ", "\n");
    REQUIRE_MESSAGE(!list.empty(), message);
    std::set<std::string> keys;
    for (const std::string& piece : split(list, ", ")) {
        for (const std::string& key : split(piece, " or ")) keys.insert(key);
    }
    return keys;
}

}  // namespace

TEST_CASE("docs: every example parses, without a warning") {
    const std::vector<std::string> examples = blocks("toml");
    REQUIRE(examples.size() >= 9);
    for (const std::string& example : examples) {
        CAPTURE(example);
        CHECK(fault_of(completed(example)) == "");
        CHECK(parse(completed(example)).warnings.empty());
    }
    // The short and the complete one stand on their own.
    CHECK(fault_of(examples[0]) == "");
    const Scene complete = parse(examples[1]);
    CHECK(complete.locked.has_value());
    CHECK(complete.output_folder.has_value());
    CHECK(complete.passes.parts.has_value());
    for (const auto& [table, rows] : reference()) {
        if (table == "blank.hole") continue;
        if (table == "relief.source.NAME") {
            CHECK(!complete.relief->sources.empty());
            continue;
        }
        CHECK_MESSAGE(contains(examples[1], "[" + table), "the complete scene lacks " << table);
    }
}

TEST_CASE("docs: the reference lists exactly the keys that there are") {
    const auto tables = reference();
    std::set<std::string> names;
    for (const auto& [table, rows] : tables) {
        CAPTURE(table);
        names.insert(table.substr(0, table.find('.')));
        if (rows.empty() || table == "pass") continue;
        std::set<std::string> keys;
        for (const Row& row : rows) keys.insert(row.key);
        CHECK(keys == known_keys(table));
    }
    CHECK(names == std::set<std::string>{"blank", "model", "pose", "framing", "poses", "image",
                                         "pass", "relief", "output", "locked"});
    for (const std::string& pass : known_keys("pass")) CHECK(tables.contains("pass." + pass));
    for (const char* plain : {"silhouette", "normal", "blank"}) {
        CHECK(tables.at(std::string("pass.") + plain).empty());
    }
}

TEST_CASE("docs: a default that is written out changes nothing") {
    int tried = 0;
    for (const auto& [table, rows] : reference()) {
        for (const Row& row : rows) {
            if (row.fallback.empty()) continue;
            CAPTURE(table);
            CAPTURE(row.key);
            // Only a rectangle may have a corner radius, and only a blank with a hole its keys.
            std::string base = completed("");
            if (row.key == "corner_radius_mm") {
                base = completed("[blank]\nshape = 'rectangle'\nheight_mm = 40\n");
            }
            // A pass that is not made without its table.
            if (table == "pass.undercut" || table == "pass.steep")
                base = completed("[" + table + "]\n");
            if (table == "pass.parts") base = completed("[pass.parts]\nnames = ['a']\n");
            if (table == "blank.hole") base = completed("[blank]\nhole = {}\n");
            if (table.starts_with("relief")) base = completed("[relief]\n");
            if (table == "relief.source.NAME")
                base = completed("[relief.source.NAME]\n" +
                                 std::string(row.key == "depth" ? "part = 'a'\n"
                                                                : "shape = 'rectangle'\n"
                                                                  "size_mm = [1, 1]\n"));
            if (table == "relief.layer") {  // no override reaches into an array
                base = completed("[[relief.layer]]\nsource = 'forms'\n");
                const std::string with = "source = 'forms'\n" + row.key + " = " + row.fallback;
                CHECK(dump(parse(completed("[[relief.layer]]\n" + with + "\n"))) ==
                      dump(parse(base)));
                continue;
            }
            const std::string key = table + "." + row.key;
            CHECK(dump(parse(base, {{key, row.fallback}})) == dump(parse(base)));
            ++tried;
        }
    }
    CHECK(tried >= 25);
}

TEST_CASE("docs: the messages shown are the program's") {
    const std::string message = blocks("text").at(0);
    const auto lines = lines_of(message);
    REQUIRE(lines.size() == 3);
    const std::string model = "[model]\nfile = 'a'\n";
    CHECK(lines[0] == fault_of("\n[blank]\nwidth_mm = \"38\"\n" + model));
    CHECK(lines[1] == fault_of(model + "\n[blank]\n\n\n[pose]\nyaw = 3\n"));
    CHECK(lines[2] == fault_of(smallest, {{"blank.rim_mm", "20"}}));
}

TEST_CASE("docs: the overrides shown are taken") {
    int tried = 0;
    for (const std::string& line : lines_of(blocks("sh").at(0))) {
        std::vector<Override> overrides;
        const std::vector<std::string> pieces = split(line, "--set ");
        for (std::size_t i = 1; i < pieces.size(); ++i) {
            const bool in_quotes = pieces[i].starts_with("'");
            const std::string set =
                in_quotes ? between(pieces[i], "'", "'") : split(pieces[i], " ").front();
            overrides.push_back(parse_override(set));
        }
        CAPTURE(line);
        CHECK(fault_of(smallest, overrides) == "");
        tried += static_cast<int>(overrides.size());
    }
    CHECK(tried == 4);
}

TEST_CASE("docs: the recipes shown are those that are built in") {
    const std::string page = page_text("mixing.md");
    for (const std::string name : {"struck-medal", "cast-piece", "button"}) {
        CAPTURE(name);
        const std::string shown =
            between(between(page, "### " + name + "\n", "##"), "```toml\n", "```");
        REQUIRE_FALSE(shown.empty());
        CHECK(dump(parse(completed(shown))) ==
              dump(parse(completed("[relief]\nrecipe = '" + name + "'\n"))));
    }
    for (const std::string& example : blocks("toml", "mixing.md")) {
        CAPTURE(example);
        CHECK(fault_of(completed(example)) == "");
    }
}
