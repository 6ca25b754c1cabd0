// rakelight lock: write the resolved camera into the scene file.

#include <CLI/CLI.hpp>
#include <algorithm>
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
#include "poses/pose_record.hpp"
#include "scene/lock_text.hpp"
#include "scene/pose_text.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

struct LockCommand {
    TalkOptions talk;
    fs::path file;
    LoadOptions load;
    bool again = false;
    std::string pose;
    fs::path from;
};

std::string file_text(const fs::path& path) {
    std::ifstream stream(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

std::string names_of(const std::vector<PoseCandidate>& candidates) {
    constexpr std::size_t most = 12;
    std::string names;
    for (std::size_t i = 0; i < std::min(most, candidates.size()); ++i)
        names += (i > 0 ? ", " : "") + candidates[i].name;
    return names + (candidates.size() > most ? " ..." : "");
}

// A candidate of the scene, or else of a sweep that was run: its record has the pose.
PoseCandidate find_pose(const Scene& scene, const LockCommand& options) {
    const auto candidates = pose_candidates(scene);
    for (const auto& candidate : candidates) {
        if (candidate.name == options.pose) return candidate;
    }
    const fs::path folder =
        options.from.empty() ? scene.path.parent_path() / (scene.name + "-poses") : options.from;
    const fs::path record_file = folder / options.pose / pose_record_file;
    std::error_code ignored;
    if (fs::is_regular_file(record_file, ignored)) {
        const PoseRecord record = read_pose_record(record_file);
        return {record.name, record.pose, record.zoom};
    }
    throw Error(ExitCode::wrong_use, "--pose " + options.pose + ": found no such pose in " +
                                         options.file.string() + " and no " + record_file.string() +
                                         "; expected " +
                                         (candidates.empty() ? "the name of a pose that was tried"
                                                             : "one of " + names_of(candidates)) +
                                         "; --from names the folder of another sweep");
}

// The scene's text with the pose that is to be locked.
std::string text_to_lock(const LockCommand& options) {
    const std::string text = file_text(options.file);
    if (options.pose.empty()) return text;
    const Scene scene = read_scene(options.file);
    return with_pose(text, scene, find_pose(scene, options), options.file);
}

void run(const LockCommand& options) {
    const std::string before = file_text(options.file);
    const std::string text = text_to_lock(options);
    Scene scene = parse_scene(text, options.file);
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
    if (locked != before) replace_file(options.file, locked);
    say_warnings(options.talk, prepared.scene.name, prepared.warnings());
    const glm::dvec2 size = prepared.framing.subject.size_mm();
    if (options.talk.json) {
        const nlohmann::ordered_json json = {{"scene", options.file.string()},
                                             {"changed", locked != before},
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
    sub->add_option("--pose", options->pose, "Take this pose of a sweep over into the scene first")
        ->type_name("NAME");
    sub->add_option("--from", options->from,
                    "Folder of the sweep; without: NAME-poses beside the scene")
        ->type_name("FOLDER");
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight lock medal.toml --pose yaw20_pitch-15");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
