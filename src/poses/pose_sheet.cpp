#include "poses/pose_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "image/area_reduction.hpp"
#include "image/proof.hpp"
#include "poses/pose_tile.hpp"
#include "share_work.hpp"

namespace rakelight {
namespace {

constexpr std::size_t most_figures = 3;
constexpr std::size_t few_poses = 12;
constexpr int few_px = 440;  // of a panel
constexpr int many_px = 280;
constexpr std::size_t most_poses = 120;  // more can be neither seen at a time nor kept in memory

std::vector<const PoseFigure*> figures_shown(const PoseFigure* by) {
    std::vector<const PoseFigure*> shown;
    if (by != nullptr) shown.push_back(by);
    for (const PoseFigure& figure : pose_figures()) {
        if (&figure != by) shown.push_back(&figure);
    }
    return shown;
}

std::string caption_of(const PoseRecord& record, const PoseFigure* by) {
    std::string caption = record.name;
    std::size_t lines = 0;
    for (const PoseFigure* figure : figures_shown(by)) {
        const double value = record.figures.*figure->value;
        if (!std::isfinite(value) && figure != by) continue;
        caption += "\n" + std::string(figure->label) + " " + figure_text(*figure, value);
        if (++lines == most_figures) break;
    }
    return caption;
}

std::string title_of(const std::vector<JoinedPose>& poses, std::size_t shown,
                     const PoseFigure* by) {
    std::string title = poses.front().record.scene + "   " + std::to_string(shown) + " of " +
                        std::to_string(poses.front().record.of) + " poses";
    if (by != nullptr) title += ", by " + std::string(by->label);
    return title;
}

// Reduced at once: a hundred pictures in full would be a hundred megabytes.
Image16 small_picture(const JoinedPose& pose, int px) {
    const Image16 image = image16_from(read_pose_picture(pose, piece_file).image);
    AreaReduction reduction(image.width, image.height, image.channels,
                            reduced_size(image.width, image.height, px));
    reduction.add_rows(image.codes);
    return reduction.image();
}

}  // namespace

std::vector<std::byte> pose_sheet(const std::vector<JoinedPose>& poses,
                                  const std::vector<std::size_t>& order, const PoseFigure* by) {
    const std::size_t shown = std::min(order.size(), most_poses);
    ProofLook look;
    look.panel_px = shown <= few_poses ? few_px : many_px;
    std::vector<ProofPanel> panels(shown);
    share_work(shown, machine_threads(), [&](std::size_t n) {
        const JoinedPose& pose = poses[order[n]];
        panels[n] = {caption_of(pose.record, by), small_picture(pose, look.panel_px)};
    });
    if (panels.empty()) panels.push_back({"no usable pose", Image16(few_px, few_px, 1)});
    return encode_proof(panels, title_of(poses, shown, by), look);
}

}  // namespace rakelight
