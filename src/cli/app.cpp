#include "cli/app.hpp"

#include <CLI/CLI.hpp>
#include <cstdio>
#include <new>
#include <string>

#include "cli/commands.hpp"
#include "error.hpp"
#include "interrupt.hpp"
#include "version.hpp"

namespace rakelight {
namespace {

constexpr const char* closing_words =
    "Exit codes: 0 all written; 1 a fault of the program; 2 wrong use; 3 scene file; 4 model;\n"
    "5 graphics; 6 output not written; 7 picture not usable; 130, 143 interrupted.\n\n"
    "A first try:\n"
    "  rakelight draft shell.ply -o medal.toml && rakelight render medal.toml";

int exit_code(ExitCode code) {
    return static_cast<int>(code);
}

void say_error(const std::string& message) {
    std::fprintf(stderr, "rakelight: error: %s\n", message.c_str());
}

// Help and version are no errors; the rest is wrong use, whatever number the parser has for it.
int end_of_parsing(const CLI::App& app, const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) return app.exit(error);
    say_error(std::string(error.what()) + "\nexpected a command as `rakelight --help` lists them");
    return exit_code(ExitCode::wrong_use);
}

void flush_stdout() {
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return;
    throw Error(ExitCode::not_written, "standard output could not be written; nothing else failed");
}

}  // namespace

int run_command(int argc, char** argv) {
    CLI::App app(
        "Rakelight renders the source passes of a relief from a 3D model: depth, occlusion, "
        "curvature,\nsilhouette and more, aligned to the pixel, at the size of the blank.",
        "rakelight");
    app.set_version_flag("--version", std::string("rakelight ") + version);
    app.require_subcommand(1);
    app.footer(closing_words);
    Command command;
    add_draft(app, command);
    add_inspect(app, command);
    add_check(app, command);
    add_render(app, command);
    add_lock(app, command);
    add_graphics(app, command);
    try {
        app.parse(argc, argv);
        catch_interrupts();
        command();
        flush_stdout();
        return exit_code(ExitCode::all_written);
    } catch (const CLI::ParseError& error) {
        return end_of_parsing(app, error);
    } catch (const Error& error) {
        say_error(error.what());
        return exit_code(error.code());
    } catch (const std::bad_alloc&) {
        say_error("out of memory; fewer px_per_mm or a smaller model need less");
    } catch (const std::exception& error) {
        say_error(std::string("a fault of the program itself: ") + error.what());
    }
    return exit_code(ExitCode::own_fault);
}

}  // namespace rakelight
