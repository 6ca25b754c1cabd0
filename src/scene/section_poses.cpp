// [poses]: the poses that a sweep tries, and how they are called.

#include <algorithm>
#include <set>

#include "error.hpp"
#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace scene_file {

namespace {

constexpr std::size_t longest_name = 80;
constexpr std::size_t most_poses = 1000000;

/// Why a name cannot be a folder's on every system, or empty.
std::string name_fault(const std::string& name) {
    const bool sound = std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               std::string_view("._+-").find(c) != std::string_view::npos;
    });
    const bool edges = !name.starts_with('.') && !name.ends_with('.') && !name.starts_with('-');
    return sound && edges && name.size() <= longest_name ? "" : shown(name);
}

void check_view(Report& report, const Found& view, const PoseSettings& pose) {
    if (!view.sound() || pose.projection == Projection::perspective) return;
    report.add({view.place, view.key.label(), "an angle of view for a parallel projection",
                "projection = \"perspective\" with it", ""});
}

PoseCandidate read_named(TableReader& table, Report& report, const PoseCandidate& usual) {
    PoseCandidate candidate = usual;
    Found name = table.text("name", candidate.name);
    table.need(name, "a name, as in name = \"three-quarter\"");
    table.number("yaw_deg", candidate.pose.yaw_deg, angle);
    table.number("pitch_deg", candidate.pose.pitch_deg, angle);
    table.number("roll_deg", candidate.pose.roll_deg, angle);
    table.word("projection", candidate.pose.projection, projections);
    const Found view = table.number("view_deg", candidate.pose.view_deg, view_angle);
    table.number("zoom", candidate.zoom, zoom_factor);
    table.finish();
    check_view(report, view, candidate.pose);
    if (!name.sound()) return candidate;
    const std::string fault = name_fault(candidate.name);
    if (!fault.empty()) {
        report.add({name.place, name.key.label(), fault,
                    "at most 80 letters, digits and the signs . _ + -, no . or - first and no . "
                    "last, since a folder is called by it",
                    ""});
    }
    return candidate;
}

void check_names(Report& report, const std::vector<PoseCandidate>& named, const Found& self) {
    std::set<std::string> names;
    for (const PoseCandidate& candidate : named) {
        if (names.insert(candidate.name).second) continue;
        report.add({self.place, self.key.table_label(), "two poses called " + shown(candidate.name),
                    "a name for each pose alone", ""});
    }
}

void check_count(Report& report, const PosesSettings& poses, const Found& self) {
    double count = 1.0;
    for (const auto* values :
         {&poses.yaw_deg, &poses.pitch_deg, &poses.roll_deg, &poses.view_deg, &poses.zoom}) {
        count *= static_cast<double>(std::max<std::size_t>(values->size(), 1));
    }
    if (count <= static_cast<double>(most_poses)) return;
    report.add({self.place, self.key.table_label(), number_text(count) + " combinations",
                "at most a million; use larger steps", ""});
}

}  // namespace

PosesSettings read_poses(TableReader table, Report& report, const PoseSettings& pose,
                         const FramingSettings& framing) {
    PosesSettings poses;
    for (TableReader& named : table.tables("named"))
        poses.named.push_back(read_named(named, report, {"", pose, framing.zoom}));
    table.values("yaw_deg", poses.yaw_deg, angle);
    table.values("pitch_deg", poses.pitch_deg, angle);
    table.values("roll_deg", poses.roll_deg, angle);
    const Found view = table.values("view_deg", poses.view_deg, view_angle);
    table.values("zoom", poses.zoom, zoom_factor);
    table.finish();
    check_view(report, view, pose);
    check_names(report, poses.named, table.self());
    check_count(report, poses, table.self());
    return poses;
}

}  // namespace scene_file

namespace {

/// One key of the combinations: what it is called, its values, and where one goes.
struct SweptKey {
    std::string_view name;
    const std::vector<double>& values;
    double& (*target)(PoseCandidate&);
};

void add_combinations(std::span<const SweptKey> keys, PoseCandidate candidate,
                      std::vector<PoseCandidate>& all) {
    if (keys.empty()) {
        all.push_back(std::move(candidate));
        return;
    }
    const SweptKey& key = keys.front();
    for (const double value : key.values) {
        PoseCandidate next = candidate;
        key.target(next) = value;
        if (!next.name.empty()) next.name += "_";
        next.name.append(key.name).append(scene_file::number_text(value));
        add_combinations(keys.subspan(1), std::move(next), all);
    }
}

/// A named pose may be called as a combination is.
void check_all_names(const Scene& scene, const std::vector<PoseCandidate>& all) {
    std::set<std::string_view> names;
    for (const PoseCandidate& candidate : all) {
        if (names.insert(candidate.name).second) continue;
        throw Error(ExitCode::bad_scene,
                    scene.path.string() + ": [poses]: found two poses called \"" + candidate.name +
                        "\"; expected a name for each pose alone: call the "
                        "named one otherwise");
    }
}

}  // namespace

std::vector<PoseCandidate> pose_candidates(const Scene& scene) {
    const PosesSettings& poses = scene.poses;
    std::vector<SweptKey> keys{
        {"yaw", poses.yaw_deg, [](PoseCandidate& c) -> double& { return c.pose.yaw_deg; }},
        {"pitch", poses.pitch_deg, [](PoseCandidate& c) -> double& { return c.pose.pitch_deg; }},
        {"roll", poses.roll_deg, [](PoseCandidate& c) -> double& { return c.pose.roll_deg; }},
        {"view", poses.view_deg, [](PoseCandidate& c) -> double& { return c.pose.view_deg; }},
        {"zoom", poses.zoom, [](PoseCandidate& c) -> double& { return c.zoom; }}};
    std::vector<SweptKey> swept;
    for (const SweptKey& key : keys) {
        if (!key.values.empty()) swept.push_back(key);
    }
    std::vector<PoseCandidate> all = poses.named;
    if (!swept.empty()) add_combinations(swept, {"", scene.pose, scene.framing.zoom}, all);
    check_all_names(scene, all);
    return all;
}

}  // namespace rakelight
