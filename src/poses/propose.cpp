#include "poses/propose.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <numeric>
#include <optional>

#include "batch/in_flight.hpp"
#include "error.hpp"
#include "poses/sweep.hpp"
#include "poses/view_score.hpp"

namespace rakelight {
namespace {

constexpr double near_pole_deg = 75.0;
// Pictures that differ by less look alike to the eye; they are not proposed twice, however few
// proposals there are.
constexpr double wanted_difference = 0.20;
constexpr double least_difference = 0.08;
constexpr double least_apart_deg = 10.0;
constexpr int relaxings = 4;

// From the subject to the viewer, in the upright model's axes: right, up, front.
glm::dvec3 direction_of(const PoseSettings& pose) {
    const double yaw = glm::radians(pose.yaw_deg), pitch = glm::radians(pose.pitch_deg);
    return {-std::cos(pitch) * std::sin(yaw), std::sin(pitch), std::cos(pitch) * std::cos(yaw)};
}

PoseSettings pose_from(const Scene& scene, glm::dvec3 direction) {
    PoseSettings pose = scene.pose;
    const double up = std::clamp(direction.y, -1.0, 1.0);
    pose.pitch_deg = std::round(glm::degrees(std::asin(up))) + 0.0;
    pose.yaw_deg = std::round(glm::degrees(std::atan2(-direction.x, direction.z))) + 0.0;  // no -0
    // Near the poles a yaw is a roll of the picture.
    const bool near_pole = std::abs(pose.pitch_deg) > near_pole_deg;
    pose.roll_deg = near_pole ? (up > 0.0 ? -pose.yaw_deg : pose.yaw_deg) : 0.0;
    return pose;
}

// Front, right, back, left, top, foot, and between the first four.
std::vector<glm::dvec3> usual_directions() {
    return {{0, 0, 1},  {1, 0, 0}, {0, 0, -1}, {-1, 0, 0}, {0, 1, 0},
            {0, -1, 0}, {1, 0, 1}, {1, 0, -1}, {-1, 0, 1}, {-1, 0, -1}};
}

// Each a golden ratio's turn on from the one before and as much lower: no two are close, and each
// stands for the same area of the sphere.
std::vector<glm::dvec3> lattice(std::size_t count) {
    std::vector<glm::dvec3> directions;
    for (std::size_t i = 0; i < count; ++i) {
        const double up = 1.0 - (2.0 * static_cast<double>(i) + 1.0) / static_cast<double>(count);
        const double turn = 2.0 * std::numbers::pi * static_cast<double>(i) / std::numbers::phi;
        const double across = std::sqrt(1.0 - up * up);
        directions.emplace_back(across * std::sin(turn), up, across * std::cos(turn));
    }
    return directions;
}

ViewFacts look(const LoadedScene& loaded, const FacingSurface& surface, const PoseSettings& pose,
               double px_per_mm, Renderer& renderer) {
    const PreparedScene prepared =
        prepare_pose(loaded, {"view", pose, loaded.scene.framing.zoom}, px_per_mm);
    if (prepared.framing.subject.edge_on)
        throw Error(ExitCode::unusable_picture, std::string(edge_on_text));
    const BlankGeometry blank(prepared.scene.blank);
    RenderRequest request = picture_request(prepared);
    ask_for_figures(request, prepared.scene, blank);
    ViewMeter meter(prepared, surface);
    renderer.render(request, [&](const RenderedPlanes& planes, int first_row) {
        const auto masks =
            blank_masks(blank, prepared.framing.grid, first_row, planes.coverage.height);
        meter.add({planes, masks, first_row});
    });
    return meter.facts();
}

// Nothing for a pose from which nothing can be seen.
std::vector<std::optional<ViewFacts>> look_from_all(const LoadedScene& loaded,
                                                    const std::vector<PoseSettings>& poses,
                                                    const ProposalOptions& options) {
    LoadedScene small = loaded;
    small.scene.image.samples = std::min(loaded.scene.image.samples, 2);
    const double px_per_mm = sweep_px_per_mm(small.scene, options.longer_px);
    const FacingSurface surface(small.mesh, small.used);
    std::vector<std::optional<ViewFacts>> views(poses.size());
    const std::int64_t pixels = std::int64_t{options.longer_px} * options.longer_px;
    const std::size_t at_once = options.at_once > 0 ? options.at_once : pictures_at_once(pixels);
    share_pictures(poses.size(), at_once, DeviceChoice::processor,
                   [&](std::size_t i, DeviceRenderer& renderer) {
                       renderer.set_mesh(small.mesh, small.used);
                       try {
                           views[i] = look(small, surface, poses[i], px_per_mm, renderer);
                       } catch (const Error& error) {
                           if (error.code() != ExitCode::unusable_picture) throw;
                       }
                   });
    return views;
}

struct View {
    PoseSettings pose;
    ViewScore score;
    Sketch sketch;
};

// The best first; those of equal score in the order in which they were looked at.
std::vector<View> ranked_views(const std::vector<PoseSettings>& poses,
                               const std::vector<std::optional<ViewFacts>>& looked) {
    std::vector<ViewFacts> facts;
    std::vector<PoseSettings> usable;
    for (std::size_t i = 0; i < poses.size(); ++i) {
        if (!looked[i]) continue;
        facts.push_back(*looked[i]);
        usable.push_back(poses[i]);
    }
    const auto scores = score_views(facts, usable);
    std::vector<View> views;
    for (std::size_t i = 0; i < facts.size(); ++i)
        views.push_back({usable[i], scores[i], facts[i].sketch});
    std::stable_sort(views.begin(), views.end(), [](const View& a, const View& b) {
        return a.score.total() > b.score.total();
    });
    return views;
}

bool differs(const View& view, const View& other, double apart_deg, double least) {
    const double cosine = glm::dot(direction_of(view.pose), direction_of(other.pose));
    return cosine <= std::cos(glm::radians(apart_deg)) &&
           difference(view.sketch, other.sketch) >= least;
}

// Greedy: the best that differs from all chosen so far; where there are too few, what counts as
// different is eased step by step.
std::vector<std::size_t> choose(const std::vector<View>& views, const ProposalOptions& options) {
    std::vector<std::size_t> chosen;
    for (int step = 0; step <= relaxings; ++step) {
        const double ease = static_cast<double>(step) / relaxings;
        const double apart_deg =
            std::lerp(options.apart_deg, std::min(options.apart_deg, least_apart_deg), ease);
        const double least = std::lerp(wanted_difference, least_difference, ease);
        for (std::size_t i = 0; i < views.size() && chosen.size() < options.count; ++i) {
            const bool is_new = std::all_of(chosen.begin(), chosen.end(), [&](std::size_t other) {
                return differs(views[i], views[other], apart_deg, least);
            });
            if (is_new) chosen.push_back(i);
        }
    }
    std::sort(chosen.begin(), chosen.end());
    return chosen;
}

}  // namespace

std::vector<PoseSettings> view_poses(const Scene& scene, std::size_t directions) {
    std::vector<PoseSettings> poses;
    for (const auto& direction : usual_directions())
        poses.push_back(pose_from(scene, glm::normalize(direction)));
    for (const auto& direction : lattice(directions)) poses.push_back(pose_from(scene, direction));
    return poses;
}

std::vector<Proposal> propose_poses(const LoadedScene& loaded, const ProposalOptions& options) {
    const auto poses = view_poses(loaded.scene, options.directions);
    const auto views = ranked_views(poses, look_from_all(loaded, poses, options));
    if (views.empty()) {
        throw Error(ExitCode::unusable_picture,
                    "no pose to propose: from none of " + std::to_string(poses.size()) +
                        " directions anything of the subject is seen in the field; expected it "
                        "from one at least: check [framing] shift_mm and zoom");
    }
    std::vector<Proposal> proposals;
    for (const std::size_t i : choose(views, options)) {
        char name[32];
        std::snprintf(name, sizeof name, "proposal-%02zu", proposals.size() + 1);
        proposals.push_back({{name, views[i].pose, loaded.scene.framing.zoom},
                             views[i].score.total(),
                             views[i].score});
    }
    return proposals;
}

}  // namespace rakelight
