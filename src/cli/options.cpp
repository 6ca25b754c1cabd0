#include "cli/options.hpp"

#include <CLI/CLI.hpp>
#include <charconv>
#include <cstdint>
#include <map>
#include <string>

namespace rakelight {
namespace {

constexpr std::uint64_t most_mib = std::uint64_t{1} << 40;  // in bytes it still fits 64 bits
constexpr std::uint64_t most_s = 1'000'000'000;

struct CountRange {
    std::uint64_t low, high;
};

// A whole number in a range. The parser's own conversion wraps negative numbers around.
template <typename Count>
void take_count(const std::string& name, const std::string& text, CountRange range, Count& count) {
    std::uint64_t value = 0;
    const char* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, value);
    if (read.ec != std::errc{} || read.ptr != end || value < range.low || value > range.high) {
        throw CLI::ValidationError(name, "found " + text + "; expected a whole number from " +
                                             std::to_string(range.low) + " to " +
                                             std::to_string(range.high));
    }
    count = static_cast<Count>(value);
}

template <typename Count>
void add_count(CLI::App& command, const std::string& name, const std::string& unit, Count& count,
               CountRange range, const std::string& meaning) {
    const auto take = [&count, range, name](const std::string& text) {
        take_count(name, text, range, count);
    };
    command.add_option_function<std::string>(name, take, meaning)
        ->type_name(unit)
        ->default_str(std::to_string(count));
}

// Left open it is asked of the machine, once something is to be loaded.
void add_memory_option(CLI::App& command, LoadOptions& load) {
    command
        .add_option_function<std::string>(
            "--memory",
            [&load](const std::string& text) {
                std::uint64_t mib = 0;
                take_count("--memory", text, {1, most_mib}, mib);
                load.memory_mib = mib;
            },
            "Most memory to use: what is reckoned to take more is refused before it begins, and "
            "fewer pictures are at work at a time. Without: what the machine has available")
        ->type_name("MIB");
}

}  // namespace

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
    add_count(command, "--cache-mib", "MIB", load.cache.limit_mib, {0, most_mib},
              "Most that the cache may hold");
    add_memory_option(command, load);
    add_count(command, "--import-memory-mib", "MIB", load.limits.memory_mib, {1, most_mib},
              "Most memory of a model's import");
    add_count(command, "--import-cpu-s", "SECONDS", load.limits.cpu_s, {1, most_s},
              "Most processor time of an import");
    add_count(command, "--import-wall-s", "SECONDS", load.limits.wall_s, {1, most_s},
              "Most time of an import");
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

void add_context_option(CLI::App& command, DeviceChoice& choice) {
    static const std::map<std::string, DeviceChoice> names{{"auto", DeviceChoice::automatic},
                                                           {"egl", DeviceChoice::egl},
                                                           {"glfw", DeviceChoice::glfw},
                                                           {"processor", DeviceChoice::processor}};
    command
        .add_option_function<std::string>(
            "--context", [&choice](const std::string& name) { choice = names.at(name); },
            "auto (a GPU, or else the processor), processor, egl (OpenGL without a display) or "
            "glfw (OpenGL in a hidden window)")
        ->check(CLI::IsMember({"auto", "egl", "glfw", "processor"}))
        ->type_name("WAY")
        ->default_str("auto");
}

std::string device_text(const GraphicsFacts& facts) {
    return facts.renderer.empty() ? facts.way : facts.way + ", " + facts.renderer;
}

}  // namespace rakelight
