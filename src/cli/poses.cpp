// rakelight poses: many poses of a scene, with figures, pictures and a page to choose from.

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <memory>
#include <optional>

#include "cli/build_options.hpp"
#include "cli/commands.hpp"
#include "cli/gallery_talk.hpp"
#include "cli/options.hpp"
#include "cli/pose_options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "poses/propose.hpp"
#include "poses/sweep.hpp"
#include "stopwatch.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

struct PosesCommand {
    TalkOptions talk;
    SceneOptions scene;
    LoadOptions load;
    BuildOptions build;
    PoseRanges ranges;
    SweepOptions sweep;
    std::string shard = "1/1";
    ChoiceOptions choice;
    bool one_range = false;
    std::size_t propose = 0;  ///< how many poses to propose; 0: those of the scene
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
    if (options.propose > 0 && options.ranges.any())
        throw Error(ExitCode::wrong_use,
                    "found --propose together with ranges of angles; expected one of them");
    if (options.scene.files.size() != 1)
        throw Error(ExitCode::wrong_use, "found " + std::to_string(options.scene.files.size()) +
                                             " scenes; expected one, whose poses are tried");
    std::vector<Override> overrides = pose_overrides(options.ranges);
    for (const auto& text : options.scene.set) overrides.push_back(parse_override(text));
    return read_scene(options.scene.files.front(), overrides);
}

std::vector<PoseCandidate> stated_candidates(const Scene& scene) {
    auto candidates = pose_candidates(scene);
    if (!candidates.empty()) return candidates;
    throw Error(ExitCode::wrong_use,
                scene.path.string() +
                    ": found no poses to try; expected [poses] in the scene, ranges as in "
                    "--yaw=-60..60/20, or --propose 12");
}

Json proposal_event(const Proposal& proposal) {
    const ViewScore& parts = proposal.parts;
    return {{"event", "proposal"},
            {"name", proposal.candidate.name},
            {"yaw_deg", proposal.candidate.pose.yaw_deg},
            {"pitch_deg", proposal.candidate.pose.pitch_deg},
            {"roll_deg", proposal.candidate.pose.roll_deg},
            {"score", proposal.score},
            {"parts",
             {{"area", parts.area},
              {"seen", parts.seen},
              {"form", parts.form},
              {"outlook", parts.outlook},
              {"fill", parts.fill},
              {"evenness", parts.evenness},
              {"outline", parts.outline},
              {"crevices", parts.crevices}}}};
}

std::vector<PoseCandidate> proposed_candidates(const LoadedScene& loaded,
                                               const PosesCommand& options) {
    ProposalOptions wanted;
    wanted.count = options.propose;
    wanted.at_once = options.sweep.at_once;
    std::vector<PoseCandidate> candidates;
    for (const Proposal& proposal : propose_poses(loaded, wanted)) {
        candidates.push_back(proposal.candidate);
        if (options.talk.json) print_event(proposal_event(proposal));
    }
    return candidates;
}

// The folders of the sweep's poses, in their order.
std::vector<fs::path> pose_folders(const fs::path& folder,
                                   const std::vector<PoseCandidate>& candidates) {
    std::vector<fs::path> folders;
    for (const auto& candidate : candidates) folders.push_back(folder / candidate.name);
    return folders;
}

// How many poses ended in each way.
struct Tally {
    std::size_t rendered = 0, unchanged = 0, unusable = 0;
    explicit Tally(const std::vector<TriedPose>& tried) {
        for (const auto& pose : tried) {
            if (!pose.record.usable) {
                ++unusable;
            } else {
                ++(pose.state == PoseState::unchanged ? unchanged : rendered);
            }
        }
    }
};

Json done_event(const Tally& tally, const std::optional<WrittenGallery>& gallery, bool best) {
    Json event = {{"event", "done"},
                  {"rendered", tally.rendered},
                  {"unchanged", tally.unchanged},
                  {"unusable", tally.unusable},
                  {"files", gallery ? Json(gallery->files) : Json::array()}};
    if (!gallery || !best) return event;
    event["best"] = Json::array();
    for (const auto place : gallery->shown)
        event["best"].push_back(gallery->joined.poses[place].record.name);
    return event;
}

void print_summary(const PosesCommand& options, const Tally& tally,
                   const std::optional<WrittenGallery>& gallery) {
    if (gallery) print_poses(*gallery);
    std::printf("%zu rendered, %zu unchanged, %zu not usable", tally.rendered, tally.unchanged,
                tally.unusable);
    std::printf("; %s\n", gallery ? (options.sweep.folder / "gallery.html").string().c_str()
                                  : options.sweep.folder.string().c_str());
}

// A shard has not all poses, and a dry run none.
std::optional<WrittenGallery> gallery_of(const PosesCommand& options,
                                         const std::vector<PoseCandidate>& candidates) {
    if (options.sweep.dry_run || options.sweep.shard.of > 1) return std::nullopt;
    return write_gallery(pose_folders(options.sweep.folder, candidates),
                         gallery_options(options.choice), options.sweep.folder);
}

void refuse_unusable(const std::vector<TriedPose>& tried) {
    const auto usable = [](const TriedPose& pose) { return pose.record.usable; };
    if (tried.empty() || std::any_of(tried.begin(), tried.end(), usable)) return;
    throw Error(ExitCode::unusable_picture,
                "none of the poses is usable; the first: " + tried.front().record.reason);
}

void say_begin(const PosesCommand& options, const LoadedScene& loaded, std::size_t poses) {
    if (!options.talk.json) return;
    print_event({{"event", "begun"},
                 {"scene", loaded.scene.path.string()},
                 {"folder", options.sweep.folder.string()},
                 {"poses", poses},
                 {"shard", options.shard}});
}

void settle(PosesCommand& options, const Scene& scene) {
    options.sweep.shard = parse_shard(options.shard);
    gallery_options(options.choice);  // says what is wrong before any work is done
    if (options.sweep.folder.empty())
        options.sweep.folder = scene.path.parent_path() / (scene.name + "-poses");
    options.sweep.folder = fs::absolute(options.sweep.folder).lexically_normal();
}

// The list of all poses vouches for a sweep; a shard has none.
std::vector<MadeOf> rules_of(const LoadedScene& loaded, const PosesCommand& options,
                             const fs::path& named) {
    const bool shard = options.sweep.shard.of > 1;
    if (shard && !options.build.depfile.empty() && options.build.stamp.empty())
        throw Error(ExitCode::wrong_use,
                    "found --depfile with a shard, which writes no poses.json that could be its "
                    "target; expected --stamp besides");
    return {{spelled_as(named, options.sweep.folder / "poses.json"),
             input_files(loaded.scene, loaded.mesh, options.scene.files.front())}};
}

void run(PosesCommand options) {
    if (!options.sweep.dry_run) remove_stamp(options.build);
    const fs::path given_out = options.sweep.folder;
    Scene scene = scene_of(options);
    settle(options, scene);
    auto candidates = options.propose > 0 ? std::vector<PoseCandidate>() : stated_candidates(scene);
    const LoadedScene loaded = load_scene(std::move(scene), options.load);
    options.sweep.memory_mib = memory_limit_mib(options.load);
    const BuildNotes notes(
        options.build,
        rules_of(loaded, options, given_out.empty() ? options.scene.files.front() : given_out));
    if (options.propose > 0) {
        ProgressLine line(options.talk, 1);
        line.show(0, loaded.scene.name, "looking from all around");
        candidates = proposed_candidates(loaded, options);
    }
    if (options.one_range && options.sweep.passes)
        options.sweep.depth_range_mm = common_depth_range_mm(loaded, candidates, options.sweep);
    const std::size_t mine = shard_size(options.sweep.shard, candidates.size());
    say_begin(options, loaded, mine);
    SweepTalk talk(options.talk, mine);
    const auto tried = run_sweep(loaded, candidates, options.sweep,
                                 [&](const TriedPose& pose) { talk.tell(pose); });
    const auto gallery = gallery_of(options, candidates);
    talk.clear();
    const Tally tally(tried);
    if (options.talk.json) print_event(done_event(tally, gallery, options.choice.best > 0));
    if (!options.talk.json && !options.talk.quiet) print_summary(options, tally, gallery);
    refuse_unusable(tried);
    if (!options.sweep.dry_run) notes.write();
}

}  // namespace

void add_poses(CLI::App& app, Command& command) {
    auto options = std::make_shared<PosesCommand>();
    CLI::App* sub =
        app.add_subcommand("poses", "Try many poses: figures, pictures and a page to choose from");
    add_scene_options(*sub, options->scene);
    add_pose_ranges(*sub, options->ranges);
    sub->add_option("--propose", options->propose,
                    "Look at the model from all around and try so many poses that promise most")
        ->type_name("COUNT")
        ->check(CLI::Range(1, 100));
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
    add_choice_options(*sub, options->choice);
    add_build_options(*sub, options->build);
    add_context_option(*sub, options->sweep.device);
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight poses medal.toml --yaw=-60..60/20 --pitch=-20,0");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
