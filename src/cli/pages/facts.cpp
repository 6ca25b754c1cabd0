#include "cli/pages/facts.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <map>
#include <set>
#include <sstream>
#include <stdexcept>

namespace rakelight::pages {
namespace {

// The piece of `text` between two marks, or nothing.
std::string between(const std::string& text, const std::string& before, const std::string& after) {
    const auto from = text.find(before);
    if (from == std::string::npos) return {};
    const auto start = from + before.size();
    const auto to = text.find(after, start);
    return to == std::string::npos ? std::string() : text.substr(start, to - start);
}

std::vector<std::string> split(const std::string& text, char separator) {
    std::vector<std::string> pieces;
    std::istringstream in(text);
    for (std::string piece; std::getline(in, piece, separator);) pieces.push_back(piece);
    return pieces;
}

std::string one_line(std::string text) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
}

// A value's name says what it is. A new name has to be placed here, so that none is forgotten.
Value value_of(const std::string& name) {
    static const std::map<std::string, Value> kinds{
        {"SCENE", Value::scene},   {"MODEL", Value::file},     {"FILE", Value::file},
        {"FOLDER", Value::folder}, {"KEY=VALUE", Value::text}, {"NAME", Value::text},
        {"VALUES", Value::text},   {"K/N", Value::text},       {"COUNT", Value::text},
        {"PX", Value::text},       {"MIB", Value::text},       {"SECONDS", Value::text}};
    const auto found = kinds.find(name);
    if (found == kinds.end())
        throw std::runtime_error("found the value name " + name +
                                 ", which src/cli/pages/facts.cpp does not know; expected it in "
                                 "the table of value_of");
    return found->second;
}

// Sets have no order of their own that stays the same from run to run: they hold addresses.
std::vector<std::string> names_of(const std::set<CLI::Option*>& options) {
    std::vector<std::string> names;
    for (const CLI::Option* option : options) names.push_back(option->get_name());
    std::sort(names.begin(), names.end());
    return names;
}

// The parser describes a value as "WAY:{auto,egl}" or "PX:INT in [0 - 65536]".
void take_value(OptionFacts& facts, const CLI::Option& option) {
    const std::string described = option.get_type_name();
    facts.value_name =
        facts.by_place() ? option.get_name(true) : described.substr(0, described.find(':'));
    facts.choices = split(between(described, ":{", "}"), ',');
    facts.range = between(described, "INT in [", "]");
    if (const auto dash = facts.range.find(" - "); dash != std::string::npos)
        facts.range.replace(dash, 3, " to ");
    facts.value = facts.choices.empty() ? value_of(facts.value_name) : Value::choice;
    facts.several = option.get_expected_max() > 1 ||
                    option.get_multi_option_policy() == CLI::MultiOptionPolicy::TakeAll;
    facts.default_text = option.get_default_str();
}

OptionFacts option_facts(const CLI::Option& option) {
    OptionFacts facts;
    for (const auto& name : option.get_snames()) facts.names.push_back("-" + name);
    for (const auto& name : option.get_lnames()) facts.names.push_back("--" + name);
    facts.meaning = one_line(option.get_description());
    facts.needs = names_of(option.get_needs());
    facts.excludes = names_of(option.get_excludes());
    if (option.get_items_expected_max() != 0) take_value(facts, option);
    return facts;
}

CommandFacts command_facts(const CLI::App& app) {
    CommandFacts facts{app.get_name(), one_line(app.get_description()), {}, {}};
    for (const CLI::Option* option : app.get_options())
        facts.options.push_back(option_facts(*option));
    for (const auto& line : split(app.get_footer(), '\n')) {
        if (line.starts_with("  ")) facts.examples.push_back(line.substr(2));
    }
    return facts;
}

}  // namespace

ProgramFacts program_facts(const CLI::App& app) {
    ProgramFacts facts{command_facts(app), {}};
    const auto any = [](const CLI::App*) { return true; };
    for (const CLI::App* command : app.get_subcommands(any))
        facts.commands.push_back(command_facts(*command));
    return facts;
}

}  // namespace rakelight::pages
