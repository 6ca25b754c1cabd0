// rakelight poses: many poses of a scene, with figures, pictures and a page to choose from.

#include <CLI/CLI.hpp>
#include <cmath>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "batch/sweep.hpp"
#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/pose_options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "stopwatch.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

struct PosesCommand {
    TalkOptions talk;
    SceneOptions scene;
    LoadOptions load;
    PoseRanges ranges;
    SweepOptions sweep;
    std::string shard = "1/1";
    bool one_range = false;
};

const char* state_text(PoseState state) {
    switch (state) {
        case PoseState::rendered:
            return "rendered";
        case PoseState::unchanged:
            return "unchanged";
        case PoseState::unusable:
            break;
    }
    return "unusable";
}

// A line of JSON for each thing that happens, as it happens.
void print_event(const Json& event) {
    std::puts(event.dump(-1, ' ', false, Json::error_handler_t::replace).c_str());
    std::fflush(stdout);
}

Json figures_json(const PoseFigures& figures) {
    Json json = Json::object();
    for (const PoseFigure& figure : pose_figures()) {
        const double value = figures.*figure.value;
        json[std::string(figure.name)] = std::isfinite(value) ? Json(value) : Json(nullptr);
    }
    return json;
}

Json pose_event(const TriedPose& tried) {
    const PoseRecord& record = tried.record;
    return {
        {"event", "pose"},         {"name", record.name},
        {"number", record.number}, {"state", record.usable ? state_text(tried.state) : "unusable"},
        {"reason", record.reason}, {"figures", figures_json(record.figures)}};
}

// Counts poses as they are done, and says how long the rest will take.
class SweepTalk {
public:
    SweepTalk(const TalkOptions& talk, std::size_t total)
        : talk_(talk), line_(talk, total), total_(total) {}

    void tell(const TriedPose& tried) {
        ++done_;
        if (tried.state != PoseState::unchanged) ++worked_;
        line_.show_done(done_, tried.record.name, seconds_left());
        if (talk_.json) print_event(pose_event(tried));
    }
    void clear() { line_.clear(); }

private:
    double seconds_left() const {
        if (worked_ == 0) return 0.0;
        return watch_.seconds() / double(worked_) * double(total_ - done_);
    }
    const TalkOptions& talk_;
    ProgressLine line_;
    Stopwatch watch_;
    std::size_t total_;
    std::size_t done_ = 0;
    std::size_t worked_ = 0;
};

Scene scene_of(const PosesCommand& options) {
    if (options.scene.files.size() != 1)
        throw Error(ExitCode::wrong_use, "found " + std::to_string(options.scene.files.size()) +
                                             " scenes; expected one, whose poses are tried");
    std::vector<Override> overrides = pose_overrides(options.ranges);
    for (const auto& text : options.scene.set) overrides.push_back(parse_override(text));
    return read_scene(options.scene.files.front(), overrides);
}

std::vector<PoseCandidate> candidates_of(const Scene& scene) {
    auto candidates = pose_candidates(scene);
    if (!candidates.empty()) return candidates;
    throw Error(ExitCode::wrong_use,
                scene.path.string() +
                    ": found no poses to try; expected [poses] in the scene, or "
                    "ranges as in --yaw=-60..60/20");
}

void print_table(const std::vector<TriedPose>& tried) {
    std::size_t wide = 4;
    for (const auto& pose : tried) wide = std::max(wide, pose.record.name.size());
    std::printf("%-*s", int(wide), "pose");
    for (const PoseFigure& figure : pose_figures())
        std::printf("  %*s", int(std::max<std::size_t>(figure.name.size(), 7)),
                    std::string(figure.name).c_str());
    std::puts("");
    for (const auto& pose : tried) {
        std::printf("%-*s", int(wide), pose.record.name.c_str());
        if (!pose.record.usable) {
            std::printf("  %s\n", pose.record.reason.c_str());
            continue;
        }
        for (const PoseFigure& figure : pose_figures())
            std::printf("  %*.4g", int(std::max<std::size_t>(figure.name.size(), 7)),
                        pose.record.figures.*figure.value);
        std::puts("");
    }
}

void run(const PosesCommand& given) {
    PosesCommand options = given;
    options.sweep.shard = parse_shard(options.shard);
    Scene scene = scene_of(options);
    if (options.sweep.folder.empty())
        options.sweep.folder = scene.path.parent_path() / (scene.name + "-poses");
    options.sweep.folder = fs::absolute(options.sweep.folder).lexically_normal();
    const auto candidates = candidates_of(scene);
    const LoadedScene loaded = load_scene(std::move(scene), options.load);
    if (options.one_range && options.sweep.passes)
        options.sweep.depth_range_mm = common_depth_range_mm(loaded, candidates, options.sweep);
    SweepTalk talk(options.talk, candidates.size() / options.sweep.shard.of);
    const auto tried = run_sweep(loaded, candidates, options.sweep,
                                 [&](const TriedPose& pose) { talk.tell(pose); });
    talk.clear();
    if (!options.talk.json && !options.talk.quiet) print_table(tried);
}

}  // namespace

void add_poses(CLI::App& app, Command& command) {
    auto options = std::make_shared<PosesCommand>();
    CLI::App* sub =
        app.add_subcommand("poses", "Try many poses: figures, pictures and a page to choose from");
    add_scene_options(*sub, options->scene);
    add_pose_ranges(*sub, options->ranges);
    sub->add_option("--out", options->sweep.folder,
                    "Folder for the poses; without: NAME-poses beside the scene")
        ->type_name("FOLDER");
    sub->add_option("--longer-px", options->sweep.longer_px,
                    "Longer side of the pictures in pixels; 0: the scene's own resolution")
        ->type_name("PX")
        ->check(CLI::Range(0, 65536))
        ->capture_default_str();
    sub->add_flag("--passes", options->sweep.passes,
                  "Write for each pose the passes that `render` writes");
    sub->add_flag("--one-range", options->one_range,
                  "With --passes: near and far of depth are those of all poses together");
    sub->add_option("--shard", options->shard, "Do only every Nth pose, from the Kth on")
        ->type_name("K/N");
    sub->add_flag("--again", options->sweep.again, "Render unchanged poses anew, too");
    sub->add_flag("--dry-run", options->sweep.dry_run,
                  "Only say which poses there are, and which would be rendered");
    sub->add_option("--at-once", options->sweep.at_once,
                    "Poses at work at a time; without: as many as suit the machine")
        ->type_name("COUNT")
        ->check(CLI::Range(1, 256));
    add_context_option(*sub, options->sweep.device);
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight poses medal.toml --yaw=-60..60/20 --pitch=-20,0");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
