// Man pages in man(7) macros, which mandoc and groff both read.
#include <algorithm>
#include <cctype>

#include "cli/commands.hpp"
#include "cli/pages/pages.hpp"

namespace rakelight::pages {
namespace {

// Characters that roff takes for something else, or that it would set as another one:
// groff_char(7).
std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        switch (c) {
            case '\\':
                out += "\\e";
                break;
            case '-':
                out += "\\-";
                break;
            case '\'':
                out += "\\(aq";
                break;
            case '`':
                out += "\\(ga";
                break;
            case '^':
                out += "\\(ha";
                break;
            case '~':
                out += "\\(ti";
                break;
            case '"':
                out += "\\(dq";
                break;
            default:
                out += c;
        }
    }
    return out;
}

// A line of text: a dot at its start would make it a macro. (Apostrophes are escaped anyway.)
std::string line(const std::string& text) {
    const std::string out = text.starts_with('.') ? "\\&" + text : text;
    return out + "\n";
}

std::string bold(const std::string& text) {
    return "\\fB" + escaped(text) + "\\fR";
}

std::string slanted(const std::string& text) {
    return "\\fI" + escaped(text) + "\\fR";
}

// Prose: `code` becomes bold.
std::string prose(const std::string& text) {
    if (std::count(text.begin(), text.end(), '`') % 2 != 0) return escaped(text);
    std::string out;
    bool code = false;
    for (std::size_t at = 0; at != std::string::npos;) {
        const std::size_t mark = text.find('`', at);
        const std::string piece = text.substr(at, mark == std::string::npos ? mark : mark - at);
        out += code ? bold(piece) : escaped(piece);
        code = !code;
        at = mark == std::string::npos ? mark : mark + 1;
    }
    return out;
}

std::string sentence(std::string text) {
    if (!text.empty() && text.back() != '.') text += '.';
    return prose(text);
}

// "Write ..." as the line after a name and a dash.
std::string lower_first(std::string text) {
    if (!text.empty())
        text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
    return text;
}

std::string bold_list(const std::vector<std::string>& words) {
    std::vector<std::string> bolds;
    for (const auto& word : words) bolds.push_back(bold(word));
    return joined(bolds, ", ");
}

std::string upper(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
    return text;
}

std::string heading(const std::string& title, const PageHead& head) {
    return ".\\\" Made from the command's own table of options.\n.TH \"" + escaped(upper(title)) +
           "\" 1 \"" + head.date + "\" \"Rakelight " + head.version + "\" \"Rakelight\"\n";
}

std::string section(const std::string& title) {
    return ".SH " + title + "\n";
}

// "-o, --out FOLDER"
std::string option_label(const OptionFacts& option) {
    std::string label = bold_list(option.names);
    if (option.value_name.empty()) return label;
    const std::string value =
        slanted(option.value_name) + (option.by_place() && option.several ? " ..." : "");
    return option.by_place() ? value : label + " " + value;
}

std::string option_item(const OptionFacts& option) {
    std::string text = ".TP\n" + line(option_label(option)) + line(sentence(option.meaning));
    if (!option.choices.empty()) text += line("One of " + bold_list(option.choices) + ".");
    if (!option.range.empty()) text += line("A whole number, " + escaped(option.range) + ".");
    if (!option.default_text.empty())
        text += line("Without it: " + bold(option.default_text) + ".");
    if (!option.needs.empty()) text += line("Only together with " + bold_list(option.needs) + ".");
    if (!option.excludes.empty())
        text += line("Not together with " + bold_list(option.excludes) + ".");
    return text;
}

std::string option_items(const CommandFacts& command, bool by_place) {
    std::string text;
    for (const auto& option : command.options) {
        if (option.by_place() == by_place) text += option_item(option);
    }
    return text;
}

std::string synopsis(const std::string& words, const CommandFacts& command) {
    std::string text = section("SYNOPSIS");
    std::string last = bold(words) + " [" + slanted("option") + " ...]";
    for (const auto& option : command.options) {
        if (option.by_place())
            last += " " + slanted(option.value_name) + (option.several ? " ..." : "");
    }
    return text + line(last);
}

std::string exit_status() {
    std::string text = section("EXIT STATUS");
    for (const ExitMeaning& exit : exit_meanings())
        text +=
            ".TP\n" + line(bold(std::string(exit.codes))) + line(prose(std::string(exit.meaning)));
    return text;
}

std::string examples(const CommandFacts& command) {
    if (command.examples.empty()) return {};
    std::string text = section("EXAMPLES");
    for (const auto& example : command.examples)
        text += ".RS 4\n.nf\n" + line(escaped(example)) + ".fi\n.RE\n";
    return text;
}

std::string page_name(const ProgramFacts& facts, const CommandFacts& command) {
    return facts.program.name + "-" + command.name;
}

// Of all pages but the one that it stands on.
std::string see_also(const ProgramFacts& facts, const std::string& own) {
    std::vector<std::string> names{facts.program.name};
    for (const auto& command : facts.commands) names.push_back(page_name(facts, command));
    std::erase(names, own);
    std::string text = section("SEE ALSO");
    for (const auto& name : names)
        text += line(bold(name) + "(1)" + (name == names.back() ? "" : ","));
    return text;
}

}  // namespace

std::string joined(const std::vector<std::string>& words, const std::string& separator) {
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i) text += (i == 0 ? "" : separator) + words[i];
    return text;
}

std::string program_page(const ProgramFacts& facts, const PageHead& head) {
    const CommandFacts& program = facts.program;
    const std::string brief = program.meaning.substr(0, program.meaning.find(':'));
    // "Rakelight renders ..." without the name, which the line has already.
    const std::string does = brief.substr(brief.find(' ') + 1);
    std::string text =
        heading(program.name, head) + section("NAME") +
        line(escaped(program.name) + " \\- " + prose(does)) + section("SYNOPSIS") +
        line(bold(program.name) + " " + slanted("command") + " [" + slanted("option") + " ...]") +
        section("DESCRIPTION") + line(sentence(program.meaning)) +
        line("Each command has a page of its own.") + section("COMMANDS");
    for (const auto& command : facts.commands)
        text += ".TP\n" + line(bold(page_name(facts, command)) + "(1)") +
                line(sentence(command.meaning));
    return text + section("OPTIONS") + option_items(program, false) + exit_status() +
           examples(program) + see_also(facts, program.name);
}

std::string command_page(const CommandFacts& command, const ProgramFacts& facts,
                         const PageHead& head) {
    const std::string name = page_name(facts, command);
    std::string text = heading(name, head) + section("NAME") +
                       line(escaped(name) + " \\- " + prose(lower_first(command.meaning))) +
                       synopsis(facts.program.name + " " + command.name, command) +
                       section("DESCRIPTION") + line(sentence(command.meaning));
    text += option_items(command, true);
    return text + section("OPTIONS") + option_items(command, false) + exit_status() +
           examples(command) + see_also(facts, name);
}

}  // namespace rakelight::pages
