#include "cli/commands.hpp"

#include <CLI/CLI.hpp>
#include <array>
#include <string>

#include "version.hpp"

namespace rakelight {
namespace {

constexpr std::array<ExitMeaning, 9> meanings{{
    {"0", "all written", "All was written."},
    {"1", "a fault of the program", "A fault of the program itself."},
    {"2", "wrong use", "Wrong use of the command line."},
    {"3", "scene file", "A scene file is unreadable or wrong."},
    {"4", "model", "A model is missing, unreadable or empty, or its import ran out of its limits."},
    {"5", "graphics context", "No graphics context, or one that cannot do the job."},
    {"6", "output not written", "An output could not be written; nothing half-written stays."},
    {"7", "picture not usable", "Nothing is in frame, or values clip in a fixed range."},
    {"130, 143", "interrupted", "Interrupted; finished outputs stay, no partial file does."},
}};

// "Exit codes: 0 all written; 1 ...", in lines for a terminal.
std::string exit_words() {
    constexpr std::size_t widest = 88;
    std::string text, line = "Exit codes:";
    for (const ExitMeaning& exit : meanings) {
        const bool last = exit.codes == meanings.back().codes;
        const std::string words =
            std::string(exit.codes) + " " + std::string(exit.brief) + (last ? "." : ";");
        if (line.size() + 1 + words.size() > widest) {
            text += line + "\n";
            line = words;
        } else {
            line += " " + words;
        }
    }
    return text + line;
}

}  // namespace

std::span<const ExitMeaning> exit_meanings() {
    return meanings;
}

void add_commands(CLI::App& app, Command& command) {
    app.name("rakelight");
    app.description(
        "Rakelight renders the source passes of a relief from a 3D model: depth, occlusion, "
        "curvature,\nsilhouette and more, aligned to the pixel, at the size of the blank.");
    app.set_version_flag("--version", std::string("rakelight ") + version);
    app.require_subcommand(1);
    app.footer(exit_words() +
               "\n\nA first try:\n"
               "  rakelight draft shell.ply -o medal.toml && rakelight render medal.toml");
    add_draft(app, command);
    add_inspect(app, command);
    add_check(app, command);
    add_render(app, command);
    add_poses(app, command);
    add_gallery(app, command);
    add_lock(app, command);
    add_graphics(app, command);
}

}  // namespace rakelight
