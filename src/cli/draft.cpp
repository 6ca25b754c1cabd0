// rakelight draft: a commented first scene for a model.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "image/output_set.hpp"
#include "model/load.hpp"
#include "scene/draft.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

struct DraftCommand {
    TalkOptions talk;
    fs::path model;
    fs::path out;
    bool force = false;
    LoadOptions load;
};

std::string size_words(const Mesh& mesh) {
    const glm::dvec3 size = mesh.bounds().size();
    const double unit = mesh.facts().mm_per_unit;
    const double scale = unit > 0.0 ? unit : 1.0;
    char text[120];
    std::snprintf(text, sizeof text, "%.4g x %.4g x %.4g %s", scale * size.x, scale * size.y,
                  scale * size.z, unit > 0.0 ? "mm" : "units");
    return text;
}

// As it shall stand in the scene: relative to where the scene will lie.
std::string model_in_scene(const DraftCommand& options) {
    const fs::path base =
        options.out.empty() ? fs::current_path() : fs::absolute(options.out).parent_path();
    const fs::path relative = fs::absolute(options.model).lexically_relative(base);
    return (relative.empty() ? fs::absolute(options.model) : relative).generic_string();
}

void write_draft(const DraftCommand& options, const std::string& text) {
    if (options.out.empty()) {
        std::fputs(text.c_str(), stdout);
        return;
    }
    if (fs::exists(options.out) && !options.force) {
        throw Error(ExitCode::not_written,
                    options.out.string() +
                        ": found a file there already; expected none: --force "
                        "replaces it");
    }
    replace_file(options.out, text);
    if (!options.talk.quiet) std::fprintf(stderr, "wrote %s\n", options.out.string().c_str());
}

void run(const DraftCommand& options) {
    const Mesh mesh = load_model(options.model, options.load);
    say_warnings(options.talk, options.model.filename().string(), mesh.facts().warnings);
    DraftFacts facts;
    facts.model_file = model_in_scene(options);
    facts.up = mesh.facts().up;
    facts.up_reason = mesh.facts().up_reason;
    facts.size = size_words(mesh);
    for (const auto& part : mesh.parts()) facts.part_names.push_back(part.name);
    write_draft(options, draft_scene(facts));
}

}  // namespace

void add_draft(CLI::App& app, Command& command) {
    auto options = std::make_shared<DraftCommand>();
    CLI::App* sub = app.add_subcommand("draft", "Write a commented first scene for a model");
    sub->add_option("MODEL", options->model, "Model file")->required()->type_name("");
    sub->add_option("-o,--out", options->out, "Scene file to write; without it, stdout")
        ->type_name("SCENE");
    sub->add_flag("--force", options->force, "Replace a scene file that is there");
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight draft shell.ply -o medal.toml");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
