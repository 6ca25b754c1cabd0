// The completion for zsh, by its function _arguments: zshcompsys(1).
#include <cctype>

#include "cli/pages/pages.hpp"

namespace rakelight::pages {
namespace {

std::string quoted(const std::string& text) {
    std::string out = "'";
    for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return out + "'";
}

// What ends a piece of an _arguments or _describe specification, unless a backslash is before it.
std::string plain(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (c == '\\' || c == '[' || c == ']' || c == ':') out += '\\';
        out += c;
    }
    return out;
}

// A choice stands in a list that the shell reads once more.
std::string choice(const std::string& text) {
    std::string out;
    for (const char c : text) {
        if (!std::isalnum(static_cast<unsigned char>(c)) && c != '_' && c != '-') out += '\\';
        out += c;
    }
    return out;
}

std::string action(const OptionFacts& option) {
    std::vector<std::string> choices;
    switch (option.value) {
        case Value::choice:
            for (const auto& word : option.choices) choices.push_back(choice(word));
            return "(" + joined(choices, " ") + ")";
        case Value::scene:
            return "_files -g \"*.toml(-.)\"";
        case Value::file:
            return "_files";
        case Value::folder:
            return "_files -/";
        case Value::none:
        case Value::text:
            break;
    }
    return " ";
}

// Options that are not offered beside this one: its other names, and what the command refuses.
std::string not_beside(const OptionFacts& option) {
    std::vector<std::string> names;
    if (option.names.size() > 1 && !option.several) names = option.names;
    names.insert(names.end(), option.excludes.begin(), option.excludes.end());
    return names.empty() ? std::string() : "(" + joined(names, " ") + ")";
}

// One specification per name.
std::string option_lines(const OptionFacts& option) {
    std::string text;
    for (const auto& name : option.names) {
        std::string spec = not_beside(option) + (option.several ? "*" : "") + name;
        if (option.value != Value::none) spec += name.starts_with("--") ? "=" : "+";
        spec += "[" + plain(option.meaning) + "]";
        if (option.value != Value::none)
            spec += ":" + plain(option.value_name) + ":" + action(option);
        text += " \\\n                " + quoted(spec);
    }
    return text;
}

std::string place_line(const OptionFacts& option) {
    return " \\\n                " +
           quoted((option.several ? "*:" : ":") + plain(option.value_name) + ":" + action(option));
}

std::string arguments_of(const CommandFacts& command) {
    std::string text;
    for (const auto& option : command.options)
        text += option.by_place() ? place_line(option) : option_lines(option);
    return text;
}

std::string command_case(const CommandFacts& command) {
    return "        " + quoted(command.name) + ")\n            _arguments -s" +
           arguments_of(command) + "\n            ;;\n";
}

}  // namespace

std::string zsh_completion(const ProgramFacts& facts) {
    std::string commands, cases;
    for (const auto& command : facts.commands) {
        commands += "        " + quoted(plain(command.name) + ":" + plain(command.meaning)) + "\n";
        cases += command_case(command);
    }
    std::string own;
    for (const auto& option : facts.program.options) own += option_lines(option);
    return "#compdef rakelight\n"
           "# zsh completion of rakelight, made from the command's own table of options.\n\n"
           "_rakelight() {\n"
           "    local curcontext=$curcontext state state_descr\n"
           "    local -a line commands\n"
           "    local ended=1\n"
           "    typeset -A opt_args\n"
           "    commands=(\n" +
           commands +
           "    )\n"
           "    _arguments -C" +
           own +
           " \\\n                '1:command:->command' '*::value:->value' && ended=0\n"
           "    if [[ $state == command ]]; then\n"
           "        _describe command commands\n"
           "        return\n"
           "    fi\n"
           "    [[ $state == value ]] || return ended\n"
           "    curcontext=${curcontext%:*:*}:rakelight-$words[1]:\n"
           "    case $words[1] in\n" +
           cases + "    esac\n}\n\n_rakelight \"$@\"\n";
}

}  // namespace rakelight::pages
