#pragma once
// Options that several commands share.

#include <filesystem>
#include <string>
#include <vector>

#include "model/load.hpp"
#include "render/device_renderer.hpp"
#include "scene/scene.hpp"

namespace CLI {
class App;
}

namespace rakelight {

/// --quiet, --verbose, --json: what is said, and where.
struct TalkOptions {
    bool quiet = false;
    bool verbose = false;
    bool json = false;
};
void add_talk_options(CLI::App& command, TalkOptions& talk);

/// --no-cache, --cache-folder and the limits of the import.
void add_load_options(CLI::App& command, LoadOptions& load);

/// SCENE... and --set KEY=VALUE.
struct SceneOptions {
    std::vector<std::filesystem::path> files;
    std::vector<std::string> set;
};
void add_scene_options(CLI::App& command, SceneOptions& scenes);

/// Reads all scenes with the overrides; the first fault ends it.
std::vector<Scene> read_scenes(const SceneOptions& options);

/// --context auto|egl|glfw|processor.
void add_context_option(CLI::App& command, DeviceChoice& choice);

/// What draws, in a few words.
std::string device_text(const GraphicsFacts& facts);

}  // namespace rakelight
