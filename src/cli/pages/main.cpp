// rakelight_pages FOLDER DATE: writes the man pages and the completions of this version.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <stdexcept>

#include "cli/commands.hpp"
#include "cli/pages/pages.hpp"
#include "version.hpp"

namespace {

namespace fs = std::filesystem;
using namespace rakelight;

void write(const fs::path& path, const std::string& text) {
    fs::create_directories(path.parent_path());
    std::ofstream out(path, std::ios::binary);
    out << text;
    out.close();
    if (!out) throw std::runtime_error("cannot write " + path.string());
}

void write_all(const fs::path& folder, const pages::PageHead& head) {
    CLI::App app;
    Command command;
    add_commands(app, command);
    const pages::ProgramFacts facts = pages::program_facts(app);
    const fs::path man = folder / "man1";
    write(man / "rakelight.1", pages::program_page(facts, head));
    for (const auto& one : facts.commands)
        write(man / ("rakelight-" + one.name + ".1"), pages::command_page(one, facts, head));
    write(folder / "bash" / "rakelight", pages::bash_completion(facts));
    write(folder / "zsh" / "_rakelight", pages::zsh_completion(facts));
    write(folder / "fish" / "rakelight.fish", pages::fish_completion(facts));
}

}  // namespace

int main(int argc, char** argv) {
    try {
        if (argc != 3) throw std::runtime_error("expected a folder and a date, as in 2026-11-25");
        write_all(argv[1], {version, argv[2]});
        return 0;
    } catch (const std::exception& error) {
        std::fprintf(stderr, "rakelight_pages: error: %s\n", error.what());
        return 1;
    }
}
