#pragma once
// The command line as a tree of names, options and meanings. The command parses by it; its man
// pages and completions are made of it. One function per command adds the command's options, and
// sets what to run when the user asked for it.

#include <functional>
#include <span>
#include <string_view>

namespace CLI {
class App;
}

namespace rakelight {

using Command = std::function<void()>;

/// Names the program and adds all commands.
/// @param app      empty
/// @param command  must live as long as `app`; parsing sets it
void add_commands(CLI::App& app, Command& command);

/// What an exit code says.
struct ExitMeaning {
    std::string_view codes;  ///< one code, or several: "130, 143"
    std::string_view brief;  ///< for a list in one line
    std::string_view meaning;
};
std::span<const ExitMeaning> exit_meanings();

void add_draft(CLI::App& app, Command& command);
void add_inspect(CLI::App& app, Command& command);
void add_check(CLI::App& app, Command& command);
void add_render(CLI::App& app, Command& command);
void add_poses(CLI::App& app, Command& command);
void add_gallery(CLI::App& app, Command& command);
void add_lock(CLI::App& app, Command& command);
void add_graphics(CLI::App& app, Command& command);

}  // namespace rakelight
