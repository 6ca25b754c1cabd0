#pragma once
// What the command's tree of options says, in the form that pages and completions need.

#include <string>
#include <vector>

namespace CLI {
class App;
}

namespace rakelight::pages {

/// What a value is, as far as a shell can help with it.
enum class Value { none, choice, scene, file, folder, text };

struct OptionFacts {
    std::vector<std::string> names;  ///< "-o", "--out"; empty when it goes by its place
    std::string value_name;          ///< "FOLDER"; empty when it takes no value
    Value value = Value::none;
    std::vector<std::string> choices;
    std::string range;         ///< "0 to 65536"; empty: none that the parser knows
    std::string default_text;  ///< empty: none
    std::string meaning;
    bool several = false;               ///< may be repeated
    std::vector<std::string> needs;     ///< names of options that must be there too
    std::vector<std::string> excludes;  ///< names of options that may not

    bool by_place() const { return names.empty(); }
};

struct CommandFacts {
    std::string name;  ///< "render"; of the program: "rakelight"
    std::string meaning;
    std::vector<OptionFacts> options;
    std::vector<std::string> examples;
};

struct ProgramFacts {
    CommandFacts program;
    std::vector<CommandFacts> commands;
};

/// Walks the tree. Throws std::runtime_error when an option's value has a name of no known kind.
ProgramFacts program_facts(const CLI::App& app);

}  // namespace rakelight::pages
