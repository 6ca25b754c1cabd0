// rakelight lock: write the resolved camera into the scene file.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>

#include "batch/job.hpp"
#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "image/output_set.hpp"
#include "scene/lock_text.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

struct LockCommand {
    TalkOptions talk;
    fs::path file;
    LoadOptions load;
    bool again = false;
};

std::string file_text(const fs::path& path) {
    std::ifstream stream(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

void run(const LockCommand& options) {
    const std::string text = file_text(options.file);
    Scene scene = read_scene(options.file);
    if (scene.locked && !options.again) {
        throw Error(ExitCode::wrong_use, options.file.string() +
                                             ": found a scene that is locked already; expected an "
                                             "unlocked one: --again locks the present pose anew");
    }
    scene.locked.reset();  // the camera comes from pose and framing, not from the last lock
    const PreparedScene prepared = prepare_scene(std::move(scene), options.load);
    const LockedCamera camera =
        locked_camera(prepared.scene, prepared.mesh, prepared.framing.camera);
    const std::string locked = with_locked_table(text, camera, options.file);
    if (locked != text) replace_file(options.file, locked);
    say_warnings(options.talk, prepared.scene.name, prepared.warnings());
    const glm::dvec2 size = prepared.framing.subject.size_mm();
    if (options.talk.json) {
        const nlohmann::ordered_json json = {{"scene", options.file.string()},
                                             {"changed", locked != text},
                                             {"mm_per_unit", camera.mm_per_unit},
                                             {"size_mm", {size.x, size.y}}};
        std::puts(json.dump(2).c_str());
    } else if (!options.talk.quiet) {
        std::printf("%s: locked; the subject is %s mm, %.6g mm to a model unit\n",
                    prepared.scene.name.c_str(), size_text(size.x, size.y, 2).c_str(),
                    camera.mm_per_unit);
    }
}

}  // namespace

void add_lock(CLI::App& app, Command& command) {
    auto options = std::make_shared<LockCommand>();
    CLI::App* sub = app.add_subcommand(
        "lock",
        "Write the resolved camera into the scene file; the picture then stays where it is");
    sub->add_option("SCENE", options->file, "Scene file")->required()->type_name("");
    sub->add_flag("--again", options->again, "Lock a scene that is locked already");
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight lock medal.toml");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
