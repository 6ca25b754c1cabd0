#include "cli/options.hpp"

#include <CLI/CLI.hpp>
#include <map>

namespace rakelight {

void add_talk_options(CLI::App& command, TalkOptions& talk) {
    auto* quiet = command.add_flag("--quiet", talk.quiet, "Say nothing but errors");
    command.add_flag("--verbose", talk.verbose, "Say more about what was done")->excludes(quiet);
    command.add_flag("--json", talk.json, "Answer on stdout in JSON and nothing else");
}

void add_load_options(CLI::App& command, LoadOptions& load) {
    command.add_flag_callback(
        "--no-cache", [&load] { load.cache.use = false; }, "Neither read nor write the mesh cache");
    command
        .add_option_function<std::string>(
            "--cache-folder", [&load](const std::string& folder) { load.cache.folder = folder; },
            "Keep meshes here instead of in $XDG_CACHE_HOME/rakelight")
        ->type_name("FOLDER");
    command.add_option("--cache-mib", load.cache.limit_mib, "Most that the cache may hold")
        ->type_name("MIB")
        ->capture_default_str();
    command
        .add_option("--import-memory-mib", load.limits.memory_mib,
                    "Most memory of a model's import")
        ->type_name("MIB")
        ->check(CLI::PositiveNumber)
        ->capture_default_str();
    command.add_option("--import-cpu-s", load.limits.cpu_s, "Most processor time of an import")
        ->type_name("SECONDS")
        ->check(CLI::PositiveNumber)
        ->capture_default_str();
    command.add_option("--import-wall-s", load.limits.wall_s, "Most time of an import")
        ->type_name("SECONDS")
        ->check(CLI::PositiveNumber)
        ->capture_default_str();
}

void add_scene_options(CLI::App& command, SceneOptions& scenes) {
    command.add_option("SCENE", scenes.files, "Scene files")->required()->type_name("");
    command
        .add_option("--set", scenes.set,
                    "Override a key of the scene, e.g. pose.yaw_deg=30; may be repeated")
        ->type_name("KEY=VALUE")
        ->expected(1)
        ->take_all();
}

std::vector<Scene> read_scenes(const SceneOptions& options) {
    std::vector<Override> overrides;
    for (const auto& text : options.set) overrides.push_back(parse_override(text));
    std::vector<Scene> scenes;
    for (const auto& file : options.files) scenes.push_back(read_scene(file, overrides));
    return scenes;
}

void add_context_option(CLI::App& command, ContextChoice& choice) {
    static const std::map<std::string, ContextChoice> names{{"auto", ContextChoice::automatic},
                                                            {"egl", ContextChoice::egl},
                                                            {"glfw", ContextChoice::glfw}};
    command
        .add_option_function<std::string>(
            "--context", [&choice](const std::string& name) { choice = names.at(name); },
            "auto, egl (no display needed) or glfw (a hidden window)")
        ->check(CLI::IsMember({"auto", "egl", "glfw"}))
        ->type_name("WAY")
        ->default_str("auto");
}

}  // namespace rakelight
