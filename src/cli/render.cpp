// rakelight render: the passes, the manifest, a proof.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>

#include "batch/depth_range.hpp"
#include "batch/in_flight.hpp"
#include "batch/job.hpp"
#include "batch/memory_need.hpp"
#include "cli/build_options.hpp"
#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "render/device_renderer.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

struct RenderCommand {
    TalkOptions talk;
    SceneOptions scenes;
    LoadOptions load;
    BuildOptions build;
    DeviceChoice device = DeviceChoice::automatic;
    fs::path out;
    std::string files;
    bool dry_run = false;
    bool no_proof = false;
    bool one_range = false;
};

// --out holds one scene's files directly, and a folder for each of several.
fs::path folder_of(const Scene& scene, const RenderCommand& options) {
    if (!options.out.empty()) {
        const fs::path out = fs::absolute(options.out);
        return options.scenes.files.size() == 1 ? out : out / scene.name;
    }
    return scene.output_folder.value_or(scene.path.parent_path() / (scene.name + "-passes"));
}

std::vector<fs::path> folders_of(const std::vector<Scene>& scenes, const RenderCommand& options) {
    std::vector<fs::path> folders;
    std::set<fs::path> seen;
    for (const auto& scene : scenes) {
        folders.push_back(folder_of(scene, options).lexically_normal());
        if (seen.insert(folders.back() / output_name(scene, "manifest", ".json")).second) continue;
        throw Error(ExitCode::wrong_use,
                    "two scenes would write into " + folders.back().string() +
                        "; expected a folder for each, or files of other names: set [output] "
                        "folder, or files = \"{scene}-{pass}\"");
    }
    return folders;
}

void print_json(const std::vector<PreparedScene>& scenes, const std::vector<fs::path>& folders,
                const std::vector<RenderedScene>& done) {
    auto json = nlohmann::ordered_json::array();
    for (std::size_t i = 0; i < done.size(); ++i) {
        json.push_back(
            {{"scene", scenes[i].scene.path.string()},
             {"folder", folders[i].string()},
             {"files", done[i].files},
             {"size_mm",
              {scenes[i].framing.subject.size_mm().x, scenes[i].framing.subject.size_mm().y}},
             {"field_share", done[i].visible.field_share},
             {"warnings", done[i].warnings}});
    }
    std::puts(json.dump(2).c_str());
}

double figure(const Picture& picture, const std::string& name) {
    for (const auto& [key, value] : picture.figures) {
        if (key == name) return value;
    }
    return 0.0;
}

// What the passes have measured that a maker wants to know before the first look at a picture.
void print_figures(const RenderedScene& done) {
    for (const auto& picture : done.pictures) {
        if (picture.name == "undercut") {
            std::printf(
                "  undercut  %.1f %% of it hides something, down to %.2f mm behind; %.4g "
                "mm3 of gaps are filled\n",
                100.0 * figure(picture, "hidden_share"), figure(picture, "deepest_behind_mm"),
                figure(picture, "gap_volume_mm3"));
        }
        if (picture.name == "steep") {
            std::printf(
                "  steep     %.2f %% of it are walls with too little draft, %.2f %% lie "
                "along steps of up to %.2f mm\n",
                100.0 * figure(picture, "wall_share"), 100.0 * figure(picture, "step_share"),
                figure(picture, "highest_step_mm"));
        }
    }
}

void print_text(const PreparedScene& scene, const fs::path& folder, const RenderedScene& done) {
    const glm::dvec2 size = scene.framing.subject.size_mm();
    std::printf("%s: subject %s mm, %.1f %% of the field, depth %.3f mm; %zu files in %s\n",
                scene.scene.name.c_str(), size_text(size.x, size.y, 2).c_str(),
                100.0 * done.visible.field_share, done.visible.far_mm - done.visible.near_mm,
                done.files.size(), folder.string().c_str());
    print_figures(done);
}

std::vector<PreparedScene> prepare_all(std::vector<Scene> scenes, const RenderCommand& options,
                                       ProgressLine& progress) {
    std::vector<PreparedScene> prepared;
    for (auto& scene : scenes) {
        progress.show(prepared.size(), scene.name, "loading the model");
        prepared.push_back(prepare_scene(std::move(scene), options.load));
    }
    return prepared;
}

std::string search_text(DeviceChoice device) {
    switch (device) {
        case DeviceChoice::automatic:
            return "looking for a GPU";
        case DeviceChoice::processor:
            return "taking the processor";
        case DeviceChoice::egl:
        case DeviceChoice::glfw:
            break;
    }
    return "opening a graphics context";
}

// Tells of scenes in their order, whichever is done first.
class SceneTalk {
public:
    SceneTalk(const RenderCommand& options, const std::vector<PreparedScene>& scenes,
              const std::vector<fs::path>& folders, ProgressLine& progress)
        : options_(options),
          scenes_(scenes),
          folders_(folders),
          progress_(progress),
          done_(scenes.size()) {}

    void step(std::size_t i, const std::string& step) {
        const std::lock_guard lock(mutex_);
        progress_.show(i, scenes_[i].scene.name, step);
    }
    void tell(std::size_t i, RenderedScene done) {
        const std::lock_guard lock(mutex_);
        done_[i] = std::move(done);
        for (; told_ < done_.size() && done_[told_]; ++told_) say(told_);
    }
    void print_answer() const {
        std::vector<RenderedScene> all;
        for (const auto& done : done_) all.push_back(*done);
        if (options_.talk.json) print_json(scenes_, folders_, all);
    }

private:
    void say(std::size_t i) {
        progress_.clear();
        say_warnings(options_.talk, scenes_[i].scene.name, done_[i]->warnings);
        if (!options_.talk.quiet && !options_.talk.json)
            print_text(scenes_[i], folders_[i], *done_[i]);
    }

    const RenderCommand& options_;
    const std::vector<PreparedScene>& scenes_;
    const std::vector<fs::path>& folders_;
    ProgressLine& progress_;
    std::mutex mutex_;
    std::vector<std::optional<RenderedScene>> done_;
    std::size_t told_ = 0;
};

// As many as suit the machine, or as fit the memory that may be used.
std::size_t at_once(const std::vector<PreparedScene>& scenes, const RenderCommand& options) {
    const std::uint64_t limit_mib = memory_limit_mib(options.load);
    std::int64_t largest_px = 0;
    MemoryNeed need;
    std::string largest;
    for (const auto& scene : scenes) {
        const MemoryNeed own = memory_need(scene, !options.no_proof);
        if (own.picture > need.picture) largest = scene.scene.path.string();
        need = together(need, own);
        largest_px = std::max(largest_px, pixels_of(scene.framing.grid));
    }
    return pictures_within(limit_mib, need, pictures_at_once(largest_px), largest);
}

// Gives all scenes the range of depth that holds what is visible in each.
void share_range(std::vector<PreparedScene>& scenes, std::size_t at_once,
                 const RenderCommand& options) {
    std::array<double, 2> range_mm = no_range_mm;
    std::mutex widening;
    share_pictures(scenes.size(), at_once, options.device,
                   [&](std::size_t i, DeviceRenderer& renderer) {
                       const auto own_mm = visible_depth_mm(scenes[i], renderer);
                       const std::lock_guard lock(widening);
                       range_mm = joined_range_mm(range_mm, own_mm);
                   });
    for (auto& scene : scenes) set_depth_range(scene.scene, range_mm);
}

// The manifest vouches for a scene's files. It is spelled as a build file would name it.
fs::path manifest_of(std::size_t i, const std::vector<PreparedScene>& scenes,
                     const std::vector<fs::path>& folders, const RenderCommand& options) {
    const fs::path& named = options.out.empty() ? options.scenes.files[i] : options.out;
    return spelled_as(named, folders[i] / output_name(scenes[i].scene, "manifest", ".json"));
}

std::vector<MadeOf> rules_of(const std::vector<PreparedScene>& scenes,
                             const std::vector<fs::path>& folders, const RenderCommand& options) {
    std::vector<MadeOf> rules;
    for (std::size_t i = 0; i < scenes.size(); ++i)
        rules.push_back({manifest_of(i, scenes, folders, options),
                         input_files(scenes[i].scene, scenes[i].mesh, options.scenes.files[i])});
    return rules;
}

// Says what would be written. What only the picture shows, such as clipping, is not known here.
void print_plan(const std::vector<PreparedScene>& scenes, const std::vector<fs::path>& folders,
                const RenderCommand& options) {
    auto json = nlohmann::ordered_json::array();
    for (std::size_t i = 0; i < scenes.size(); ++i) {
        const auto files = planned_files(scenes[i], !options.no_proof);
        json.push_back({{"scene", scenes[i].scene.path.string()},
                        {"folder", folders[i].string()},
                        {"files", files},
                        {"warnings", scenes[i].warnings()}});
        say_warnings(options.talk, scenes[i].scene.name, scenes[i].warnings());
        if (options.talk.json || options.talk.quiet) continue;
        for (const auto& file : files) std::puts((folders[i] / file).c_str());
    }
    if (options.talk.json) std::puts(json.dump(2).c_str());
}

// --files counts more than the scene's key and any --set.
SceneOptions sources_of(const RenderCommand& options) {
    SceneOptions sources = options.scenes;
    if (!options.files.empty())
        sources.set.push_back("output.files=" + scene_file::toml_string(options.files));
    return sources;
}

void run(const RenderCommand& options) {
    if (!options.dry_run) remove_stamp(options.build);
    std::vector<Scene> scenes = read_scenes(sources_of(options));
    const auto folders = folders_of(scenes, options);
    ProgressLine progress(options.talk, scenes.size());
    auto prepared = prepare_all(std::move(scenes), options, progress);
    if (options.dry_run) {
        progress.clear();
        return print_plan(prepared, folders, options);
    }
    const BuildNotes notes(options.build, rules_of(prepared, folders, options));
    const std::size_t at_work = at_once(prepared, options);
    if (options.one_range) share_range(prepared, at_work, options);
    progress.show(0, prepared.front().scene.name, search_text(options.device));
    SceneTalk talk(options, prepared, folders, progress);
    std::once_flag said;
    share_pictures(prepared.size(), at_work, options.device,
                   [&](std::size_t i, DeviceRenderer& renderer) {
                       std::call_once(said, [&] {
                           say_verbose(options.talk, "drawn by: " + device_text(renderer.facts()));
                       });
                       RenderOptions render;
                       render.folder = folders[i];
                       render.proof = !options.no_proof;
                       render.on_step = [&](const std::string& step) { talk.step(i, step); };
                       talk.tell(i, render_scene(prepared[i], renderer, render));
                   });
    notes.write();
    talk.print_answer();
}

}  // namespace

void add_render(CLI::App& app, Command& command) {
    auto options = std::make_shared<RenderCommand>();
    CLI::App* sub = app.add_subcommand("render", "Render the passes, the manifest and a proof");
    add_scene_options(*sub, options->scenes);
    sub->add_option("--out", options->out,
                    "Folder for the files; with several scenes, one folder each in it. Without: "
                    "[output] folder, or NAME-passes beside the scene")
        ->type_name("FOLDER");
    sub->add_option("--files", options->files,
                    "What the files are called, with {pass} and {scene}; their ending follows. "
                    "Without: [output] files, or {pass}")
        ->type_name("NAME");
    sub->add_flag("--no-proof", options->no_proof, "Leave the proof sheet out");
    sub->add_flag("--one-range", options->one_range,
                  "Near and far of depth are those of all scenes together, as for a set");
    sub->add_flag("--dry-run", options->dry_run,
                  "Only say which files would be written; nothing is rendered or written");
    add_build_options(*sub, options->build);
    add_context_option(*sub, options->device);
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight render medal.toml --set image.px_per_mm=80 --out medal-80");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
