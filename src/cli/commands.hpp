#pragma once
// One function per command: it adds the command's options to the parser, and sets what to run when
// the user asked for it.

#include <functional>

namespace CLI {
class App;
}

namespace rakelight {

using Command = std::function<void()>;

void add_draft(CLI::App& app, Command& command);
void add_inspect(CLI::App& app, Command& command);
void add_check(CLI::App& app, Command& command);
void add_render(CLI::App& app, Command& command);
void add_poses(CLI::App& app, Command& command);
void add_gallery(CLI::App& app, Command& command);
void add_lock(CLI::App& app, Command& command);
void add_graphics(CLI::App& app, Command& command);

}  // namespace rakelight
