#include "cli/app.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <csignal>
#include <cstdio>
#include <new>
#include <string>

#include "cli/commands.hpp"
#include "error.hpp"
#include "heap.hpp"
#include "interrupt.hpp"

namespace rakelight {
namespace {

// A standard descriptor that came closed is taken, so that no file of ours gets its number: an
// answer would be written into that file. It stays unusable, and writing to it an error.
void take_closed_descriptors() {
    for (int opened = 0; opened >= 0 && opened <= STDERR_FILENO;) {
        opened = ::open("/dev/null", O_RDONLY);
        if (opened > STDERR_FILENO) ::close(opened);
    }
}

int exit_code(ExitCode code) {
    return static_cast<int>(code);
}

void say_error(const std::string& message) {
    std::fprintf(stderr, "rakelight: error: %s\n", message.c_str());
}

void flush_stdout() {
    if (std::fflush(stdout) == 0 && std::ferror(stdout) == 0) return;
    throw Error(ExitCode::not_written, "standard output could not be written; nothing else failed");
}

// What is wrong with the command line. The parser does not name a word that is no command.
std::string fault_of(const CLI::App& app, const CLI::ParseError& error) {
    const auto words = app.remaining();
    if (app.get_subcommands().empty() && !words.empty()) {
        return "found \"" + words.front() + "\", which is no command";
    }
    return error.what();
}

// Help and version are no errors; the rest is wrong use, whatever number the parser has for it.
int end_of_parsing(const CLI::App& app, const CLI::ParseError& error) {
    if (error.get_exit_code() == 0) {
        app.exit(error);
        flush_stdout();
        return exit_code(ExitCode::all_written);
    }
    say_error(fault_of(app, error) + "\nexpected a command as `rakelight --help` lists them");
    return exit_code(ExitCode::wrong_use);
}

int parse_and_run(CLI::App& app, const Command& command, int argc, char** argv) {
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return end_of_parsing(app, error);
    }
    catch_interrupts();
    command();
    flush_stdout();
    return exit_code(ExitCode::all_written);
}

}  // namespace

int run_command(int argc, char** argv) {
    take_closed_descriptors();
    share_heaps();
    // A file beyond `ulimit -f` is then a write that fails, and ends with its exit code.
    std::signal(SIGXFSZ, SIG_IGN);
    CLI::App app;
    Command command;
    add_commands(app, command);
    try {
        return parse_and_run(app, command, argc, argv);
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
