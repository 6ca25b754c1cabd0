#include "poses/sweep.hpp"

#include <algorithm>
#include <cstdio>
#include <limits>
#include <mutex>
#include <optional>
#include <set>
#include <system_error>

#include "batch/depth_range.hpp"
#include "batch/in_flight.hpp"
#include "batch/manifest.hpp"
#include "batch/memory_need.hpp"
#include "error.hpp"
#include "image/output_set.hpp"
#include "poses/pose_companion.hpp"
#include "version.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

// As many as wanted, or as fit the memory. Poses take about the same: reckoned for the first that
// can be framed.
std::size_t fitting(const LoadedScene& loaded, const std::vector<PoseCandidate>& candidates,
                    const SweepOptions& options, double px_per_mm, std::size_t wanted) {
    std::optional<MemoryNeed> need;
    for (std::size_t i = 0; i < candidates.size() && !need && !options.dry_run; ++i) {
        try {
            need =
                memory_need_of_pose(prepare_pose(loaded, candidates[i], px_per_mm), options.passes);
        } catch (const Error& error) {
            if (error.code() != ExitCode::unusable_picture) throw;
        }
    }
    if (!need) return wanted;
    return pictures_within(options.memory_mib, *need, wanted, loaded.scene.path.string());
}

// Calls work(number, renderer) for each number; the renderer has the mesh.
template <typename Work>
void share_poses(const LoadedScene& loaded, const std::vector<PoseCandidate>& candidates,
                 const std::vector<std::size_t>& numbers, const SweepOptions& options,
                 const Work& work) {
    ImageSettings image = loaded.scene.image;
    image.px_per_mm = sweep_px_per_mm(loaded.scene, options.longer_px);
    const std::int64_t pixels = pixels_of(make_grid(BlankGeometry(loaded.scene.blank), image));
    const std::size_t wanted = options.at_once > 0 ? options.at_once : pictures_at_once(pixels);
    share_pictures(numbers.size(), fitting(loaded, candidates, options, image.px_per_mm, wanted),
                   options.device, [&](std::size_t i, DeviceRenderer& renderer) {
                       renderer.set_mesh(loaded.mesh, loaded.used);
                       work(numbers[i], renderer);
                   });
}

std::string number_text(double number) {
    char text[32];
    std::snprintf(text, sizeof text, "%.17g", number + 0.0);
    return text;
}

std::string key_of(const LoadedScene& loaded, const PoseCandidate& candidate,
                   const SweepOptions& options, double px_per_mm, const Renderer& renderer) {
    const PoseSettings& pose = candidate.pose;
    std::string text = std::string(version) + "\n" + std::to_string(manifest_version) + "\n" +
                       loaded.scene.name + "\n" + loaded.scene.content + loaded.mesh.hash() +
                       loaded.recipe->hash() + "\n";
    for (const double number :
         {pose.yaw_deg, pose.pitch_deg, pose.roll_deg, pose.view_deg, candidate.zoom, px_per_mm})
        text += number_text(number) + " ";
    text += pose.projection == Projection::parallel ? "parallel" : "perspective";
    if (options.passes) text += " passes";
    if (options.passes && options.depth_range_mm) {
        for (const double end : *options.depth_range_mm) text += " " + number_text(end);
    }
    const GraphicsFacts& facts = renderer.facts({});
    return text_hash(text + "\n" + facts.way + "\n" + facts.renderer + "\n" + facts.gl_version);
}

bool all_there(const fs::path& folder, const std::vector<std::string>& files) {
    std::error_code ignored;
    return std::all_of(files.begin(), files.end(), [&](const std::string& file) {
        return fs::is_regular_file(folder / file, ignored);
    });
}

// The record that is there, of the same key and with all its files, or nothing.
std::optional<PoseRecord> kept_record(const fs::path& folder, const std::string& key) {
    const fs::path file = folder / pose_record_file;
    std::error_code ignored;
    if (!fs::is_regular_file(file, ignored)) return std::nullopt;
    try {
        PoseRecord record = read_pose_record(file);
        if (record.key == key && all_there(folder, record.files)) return record;
    } catch (const Error&) {
        // Spoilt, or of another version: rendered anew.
    }
    return std::nullopt;
}

// One pose after another, for one sweep.
class Sweep {
public:
    Sweep(const LoadedScene& loaded, const std::vector<PoseCandidate>& candidates,
          const SweepOptions& options)
        : loaded_(loaded),
          candidates_(candidates),
          options_(options),
          px_per_mm_(sweep_px_per_mm(loaded.scene, options.longer_px)) {
        if (options.passes && options.depth_range_mm)
            set_depth_range(loaded_.scene, *options.depth_range_mm);
    }

    TriedPose try_pose(std::size_t number, Renderer& renderer) const {
        PoseRecord record = blank_record(number);
        const fs::path folder = options_.folder / record.name;
        record.key = key_of(loaded_, candidates_[number], options_, px_per_mm_, renderer);
        if (auto kept = options_.again ? std::nullopt : kept_record(folder, record.key))
            return keep(folder, std::move(*kept), record);
        if (options_.dry_run) return {std::move(record), PoseState::rendered};
        try {
            return render(record, folder, renderer);
        } catch (const Error& error) {
            if (error.code() != ExitCode::unusable_picture) throw;
            return refuse(folder, std::move(record), error.what());
        }
    }

private:
    PoseRecord blank_record(std::size_t number) const {
        const PoseCandidate& candidate = candidates_[number];
        PoseRecord record;
        record.name = candidate.name;
        record.number = number;
        record.of = candidates_.size();
        record.scene = loaded_.scene.name;
        record.pose = candidate.pose;
        record.zoom = candidate.zoom;
        record.blank = loaded_.scene.blank;
        record.px_per_mm = px_per_mm_;
        return record;
    }

    // The list of candidates may have grown since.
    TriedPose keep(const fs::path& folder, PoseRecord kept, const PoseRecord& now) const {
        const bool same = kept.number == now.number && kept.of == now.of && kept.name == now.name;
        kept.number = now.number;
        kept.of = now.of;
        kept.name = now.name;
        if (!same && !options_.dry_run) write_record(folder, kept);
        return {std::move(kept), PoseState::unchanged};
    }

    // Made when the first pose needs it: where all are unchanged none does.
    const FacingSurface& surface() const {
        std::call_once(surface_once_, [this] { surface_.emplace(loaded_.mesh, loaded_.used); });
        return *surface_;
    }

    TriedPose render(const PoseRecord& record, const fs::path& folder, Renderer& renderer) const {
        const PreparedScene prepared =
            prepare_pose(loaded_, candidates_[record.number], px_per_mm_);
        refuse_edge_on(prepared);
        PoseCompanion companion(prepared, surface(), record);
        RenderOptions render;
        render.folder = folder;
        render.passes = options_.passes;
        render.proof = false;
        render.companion = &companion;
        render_scene(prepared, renderer, render);
        return {companion.record(), PoseState::rendered};
    }

    static TriedPose refuse(const fs::path& folder, PoseRecord record, const std::string& why) {
        record.usable = false;
        record.reason = why;
        write_record(folder, record);
        return {std::move(record), PoseState::unusable};
    }

    static void write_record(const fs::path& folder, const PoseRecord& record) {
        OutputSet outputs(folder);
        outputs.add(pose_record_file, pose_record_text(record));
        outputs.commit();
    }

    LoadedScene loaded_;
    const std::vector<PoseCandidate>& candidates_;
    const SweepOptions& options_;
    double px_per_mm_;
    mutable std::once_flag surface_once_;
    mutable std::optional<FacingSurface> surface_;
};

std::vector<std::size_t> numbers_of(const Shard& shard, std::size_t poses) {
    std::vector<std::size_t> numbers;
    for (std::size_t i = 0; i < poses; ++i) {
        if (shard.has(i)) numbers.push_back(i);
    }
    return numbers;
}

bool is_of_scene(const fs::path& record, const std::string& scene) {
    std::error_code ignored;
    if (!fs::is_regular_file(record, ignored)) return false;
    try {
        return read_pose_record(record).scene == scene;
    } catch (const Error&) {
        return false;
    }
}

// So that no sheet or gallery shows them.
void drop_stale_records(const fs::path& folder, const std::string& scene,
                        const std::vector<PoseCandidate>& candidates) {
    std::set<std::string> names;
    for (const auto& candidate : candidates) names.insert(candidate.name);
    std::error_code ignored;
    for (const auto& entry : fs::directory_iterator(folder, ignored)) {
        if (names.contains(entry.path().filename().string())) continue;
        const fs::path record = entry.path() / pose_record_file;
        if (is_of_scene(record, scene)) fs::remove(record, ignored);
    }
}

}  // namespace

std::size_t shard_size(const Shard& shard, std::size_t poses) {
    return numbers_of(shard, poses).size();
}

double sweep_px_per_mm(const Scene& scene, int longer_px) {
    if (longer_px <= 0) return scene.image.px_per_mm;
    const ImageGrid grid = make_grid(BlankGeometry(scene.blank), scene.image);
    const double longer_mm = std::max(grid.width, grid.height) / scene.image.px_per_mm;
    return std::min(scene.image.px_per_mm, longer_px / longer_mm);
}

std::vector<TriedPose> run_sweep(const LoadedScene& loaded,
                                 const std::vector<PoseCandidate>& candidates,
                                 const SweepOptions& options, const PoseListener& listener) {
    const Sweep sweep(loaded, candidates, options);
    if (!options.dry_run) drop_stale_records(options.folder, loaded.scene.name, candidates);
    const auto numbers = numbers_of(options.shard, candidates.size());
    std::vector<TriedPose> tried(candidates.size());
    std::mutex telling;
    share_poses(loaded, candidates, numbers, options, [&](std::size_t number, Renderer& renderer) {
        tried[number] = sweep.try_pose(number, renderer);
        const std::lock_guard lock(telling);
        if (listener) listener(tried[number]);
    });
    std::vector<TriedPose> mine;
    for (const auto number : numbers) mine.push_back(std::move(tried[number]));
    return mine;
}

std::array<double, 2> common_depth_range_mm(const LoadedScene& loaded,
                                            const std::vector<PoseCandidate>& candidates,
                                            const SweepOptions& options) {
    const double px_per_mm = sweep_px_per_mm(loaded.scene, options.longer_px);
    std::array<double, 2> range_mm = no_range_mm;
    std::mutex widening;
    const auto widen = [&](std::size_t number, Renderer& renderer) {
        const PreparedScene prepared = prepare_pose(loaded, candidates[number], px_per_mm);
        const auto own_mm = visible_depth_mm(prepared, renderer);
        const std::lock_guard lock(widening);
        range_mm = joined_range_mm(range_mm, own_mm);
    };
    share_poses(loaded, candidates, numbers_of({}, candidates.size()), options,
                [&](std::size_t number, Renderer& renderer) {
                    try {
                        widen(number, renderer);
                    } catch (const Error& error) {
                        if (error.code() != ExitCode::unusable_picture) throw;
                    }
                });
    if (range_mm[0] <= range_mm[1]) return range_mm;
    throw Error(ExitCode::unusable_picture,
                "nothing can be seen in any of the poses; expected at least one that shows the "
                "subject: check [poses] and [framing]");
}

}  // namespace rakelight
