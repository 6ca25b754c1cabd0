// The completion for fish: complete(1) of fish.
#include <cctype>

#include "cli/pages/pages.hpp"

namespace rakelight::pages {
namespace {

std::string quoted(const std::string& text) {
    std::string out = "'";
    for (const char c : text) {
        if (c == '\'' || c == '\\') out += '\\';
        out += c;
    }
    return out + "'";
}

// The list of choices is read by the shell once more.
std::string choice_list(const std::vector<std::string>& choices) {
    std::vector<std::string> words;
    for (const auto& choice : choices) words.push_back(quoted(choice));
    return quoted(joined(words, " "));
}

// What a value may be; "-f" keeps other files out.
std::string values(const OptionFacts& option) {
    switch (option.value) {
        case Value::choice:
            return " -f -a " + choice_list(option.choices);
        case Value::scene:
            return " -f -a '(__fish_complete_suffix .toml)'";
        case Value::file:
            return " -F";
        case Value::folder:
            return " -f -a '(__fish_complete_directories)'";
        case Value::none:
        case Value::text:
            break;
    }
    return " -f";
}

std::string names(const OptionFacts& option) {
    std::string text;
    for (const auto& name : option.names) {
        const bool is_long = name.starts_with("--");
        text += (is_long ? " -l " : " -s ") + name.substr(is_long ? 2 : 1);
    }
    return text;
}

std::string option_line(const std::string& command, const OptionFacts& option) {
    std::string text =
        "complete -c rakelight -n " + quoted("__rakelight_is '" + command + "'") + names(option);
    if (option.value != Value::none) text += (option.by_place() ? "" : " -r") + values(option);
    // A description beside a value by its place would stand at each file.
    if (!option.by_place()) text += " -d " + quoted(option.meaning);
    return text + "\n";
}

std::string option_lines(const std::string& name, const CommandFacts& command) {
    std::string text = "\n";
    for (const auto& option : command.options) text += option_line(name, option);
    return text;
}

}  // namespace

std::string fish_completion(const ProgramFacts& facts) {
    std::string text =
        "# fish completion of rakelight, made from the command's own table of options.\n\n"
        "# Whether the command line is that of this command; '': whether it has none yet.\n"
        "function __rakelight_is\n"
        "    set -l words (commandline -opc)\n"
        "    test \"$words[2]\" = $argv[1]\n"
        "end\n\n"
        "complete -c rakelight -f\n";
    for (const auto& command : facts.commands)
        text += "complete -c rakelight -n \"__rakelight_is ''\" -a " + quoted(command.name) +
                " -d " + quoted(command.meaning) + "\n";
    text += option_lines("", facts.program);
    for (const auto& command : facts.commands) text += option_lines(command.name, command);
    return text;
}

}  // namespace rakelight::pages
