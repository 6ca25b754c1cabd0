// The completion for bash.
#include "cli/pages/pages.hpp"

namespace rakelight::pages {
namespace {

// A word of the shell that stands for itself.
std::string quoted(const std::string& text) {
    std::string out = "'";
    for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
    return out + "'";
}

std::string quoted_list(const std::vector<std::string>& words) {
    std::vector<std::string> out;
    for (const auto& word : words) out.push_back(quoted(word));
    return joined(out, " ");
}

// What offers values of that kind; nothing where a shell cannot know them.
std::string offer(const OptionFacts& option) {
    switch (option.value) {
        case Value::choice:
            return "_rakelight_words " + quoted_list(option.choices);
        case Value::scene:
            return "_rakelight_files '!*.toml'";
        case Value::file:
            return "_rakelight_files ''";
        case Value::folder:
            return "_rakelight_folders";
        case Value::none:
        case Value::text:
            break;
    }
    return {};
}

// Behind an option that takes a value nothing else is offered.
std::string value_cases(const CommandFacts& command) {
    std::string text;
    std::vector<std::string> unknown;
    for (const auto& option : command.options) {
        if (option.by_place() || option.value == Value::none) continue;
        std::vector<std::string> patterns;
        for (const auto& name : option.names) patterns.push_back(quoted(command.name + " " + name));
        const std::string pattern = joined(patterns, " | ");
        if (option.value == Value::text)
            unknown.push_back(pattern);
        else
            text += "        " + pattern + ") " + offer(option) + "; return ;;\n";
    }
    if (!unknown.empty()) text += "        " + joined(unknown, " | ") + ") return ;;\n";
    return text;
}

std::string option_case(const CommandFacts& command) {
    std::vector<std::string> names;
    for (const auto& option : command.options)
        names.insert(names.end(), option.names.begin(), option.names.end());
    return "            " + quoted(command.name) + ") _rakelight_words " + quoted_list(names) +
           " ;;\n";
}

std::string place_case(const CommandFacts& command) {
    for (const auto& option : command.options) {
        if (option.by_place())
            return "            " + quoted(command.name) + ") " + offer(option) + " ;;\n";
    }
    return {};
}

// Words are matched by hand: compgen -W would expand what stands in them. File names lose the
// quoting that was typed, and get it back from readline.
constexpr const char* helpers = R"(
_rakelight_words() {
    local word
    for word; do
        [[ $word != "$current"* ]] || COMPREPLY+=("$prefix$word")
    done
}

_rakelight_paths() {
    local path typed=${current#[\"\']}
    typed=${typed//\\/}
    while IFS= read -r path; do
        COMPREPLY+=("$prefix$path")
    done < <(compgen "$@" -- "$typed" | sort -u)
    compopt -o filenames 2>/dev/null
}

_rakelight_folders() {
    _rakelight_paths -d
}

# $1 is what to leave out; folders stay in, for they lead to files.
_rakelight_files() {
    _rakelight_paths -f -X "$1"
    [[ -z $1 ]] || _rakelight_folders
}
)";

// Bash takes "=" for a word of its own where it stands in COMP_WORDBREAKS, as it does by default.
constexpr const char* start = R"(
_rakelight() {
    local command= prefix= current=${COMP_WORDS[COMP_CWORD]} before=
    COMPREPLY=()
    if ((COMP_CWORD > 1)); then
        command=${COMP_WORDS[1]} before=${COMP_WORDS[COMP_CWORD-1]}
    fi
    if [[ $current == = ]]; then
        current=
    elif [[ $before == = ]]; then
        before=${COMP_WORDS[COMP_CWORD-2]}
    elif [[ $current == --*=* ]]; then
        before=${current%%=*} prefix=$before= current=${current#*=}
    fi
)";

}  // namespace

std::string bash_completion(const ProgramFacts& facts) {
    std::vector<std::string> commands;
    std::string values, options, places;
    for (const auto& command : facts.commands) {
        commands.push_back(command.name);
        values += value_cases(command);
        options += option_case(command);
        places += place_case(command);
    }
    CommandFacts program = facts.program;
    program.name.clear();  // its options stand where no command has been given yet
    return "# bash completion of rakelight, made from the command's own table of options.\n" +
           std::string(helpers) + start + "    case \"$command $before\" in\n" + values +
           "    esac\n    if [[ $current == -* ]]; then\n        case $command in\n" +
           option_case(program) + options + "        esac\n    else\n        case $command in\n" +
           "            '') _rakelight_words " + quoted_list(commands) + " ;;\n" + places +
           "        esac\n    fi\n}\n\ncomplete -F _rakelight rakelight\n";
}

}  // namespace rakelight::pages
