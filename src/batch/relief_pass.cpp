#include "batch/relief_pass.hpp"

#include "batch/heights_panel.hpp"
#include "batch/making_pass.hpp"
#include "batch/proof_sheet.hpp"
#include "batch/ranged_pass.hpp"
#include "image/codes.hpp"
#include "image/lamps.hpp"
#include "image/proof.hpp"
#include "relief/height_normals.hpp"

namespace rakelight {
namespace {

class HeightMapPass final : public Pass {
public:
    HeightMapPass(std::shared_ptr<ReliefWork> work, const PassPlace& place)
        : Pass(named_picture("relief"), place),
          work_(std::move(work)),
          settings_(work_->settings()),
          proof_(place.proof) {
        picture_.meaning = std::string("height in mm over the field; bright is ") +
                           (settings_.sunk ? "low" : "high") +
                           (settings_.mirrored ? "; left and right exchanged" : "");
        picture_.encoding =
            settings_.sunk
                ? "code = round(65535 (1 - (h - low_mm) / whole_mm)); h = low_mm + (1 - code / "
                  "65535) whole_mm"
                : "code = round(65535 (h - low_mm) / whole_mm); h = low_mm + code whole_mm / 65535";
    }

    void add(const PictureRows&) override {}

    void settle(const VisibleSubject&) override {
        const Relief& relief = work_->relief();
        const double whole_mm = relief.high_mm - relief.low_mm;
        picture_.numbers = {{"low_mm", relief.low_mm},
                            {"whole_mm", whole_mm},
                            {"mm_per_code", whole_mm / 65535.0},
                            {"worst_error_mm", whole_mm / 131070.0}};
        Spread spread;
        const Plane& coverage = work_->planes().coverage;
        for (std::size_t i = 0; i < relief.height_mm.values.size(); ++i)
            if (coverage.values[i] > 0.0F) spread.add(relief.height_mm.values[i]);
        picture_.statistics = spread.numbers("_mm");
        describe(relief);
        write(relief);
        if (!proof_) return;
        panels_.push_back({"relief under the same lamp", lit_panel_of(relief.height_mm, grid_)});
        panels_.push_back(heights_panel(relief));
    }

    std::vector<ProofPanel> more_panels() const override { return panels_; }

private:
    void describe(const Relief& relief) {
        picture_.figures = {{"depth_range_used", relief.depth_range_used},
                            {"range_used", relief.range_used}};
        for (std::size_t i = 0; i < relief.layers.size(); ++i) {
            const std::string layer = "layer_" + std::to_string(i + 1);
            picture_.figures.emplace_back(layer + "_black", relief.layers[i].black);
            picture_.figures.emplace_back(layer + "_white", relief.layers[i].white);
            picture_.figures.emplace_back(layer + "_clipped_share", relief.layers[i].clipped_share);
        }
    }

    void write(const Relief& relief) {
        const Plane& height_mm = relief.height_mm;
        const double whole_mm = relief.high_mm - relief.low_mm;
        std::vector<std::uint16_t> codes(static_cast<std::size_t>(height_mm.width));
        for (int y = 0; y < height_mm.height; ++y) {
            for (int x = 0; x < height_mm.width; ++x) {
                const int from = settings_.mirrored ? height_mm.width - 1 - x : x;
                const double share = (height_mm.at(from, y) - relief.low_mm) / whole_mm;
                codes[static_cast<std::size_t>(x)] = encode_share(
                    static_cast<float>(settings_.sunk ? 1.0 - share : share), picture_.clipped);
            }
            file_.add_rows(picture_, codes);
        }
    }

    std::shared_ptr<ReliefWork> work_;
    const ReliefSettings& settings_;
    bool proof_;
    std::vector<ProofPanel> panels_;
};

}  // namespace

Image16 lit_panel_of(const Plane& height_mm, const ImageGrid& grid) {
    const HeightNormals normals = normals_of(height_mm, grid.px_per_mm);
    AreaReduction panel = panel_reduction(grid);
    panel.add_rows(raking_light(normals.x, normals.y, normals.z,
                                Plane(grid.width, grid.height, 1.0F), {}, usual_lamp_deg,
                                usual_lamp_height_deg)
                       .codes);
    Image16 image = panel.image();
    encode_srgb(image);
    return image;
}

std::vector<std::string> relief_pass_names(const ReliefSettings& relief) {
    std::vector<std::string> names{"relief"};
    if (relief.making.has_limits()) names.emplace_back("relief-limits");
    if (relief.making.has_steps()) names.emplace_back("relief-steps");
    return names;
}

std::vector<std::unique_ptr<Pass>> make_relief_passes(std::shared_ptr<ReliefWork> work,
                                                      const PassPlace& place) {
    std::vector<std::unique_ptr<Pass>> passes;
    passes.push_back(std::make_unique<HeightMapPass>(work, place));
    const MakingSettings& making = work->settings().making;
    if (making.has_limits()) passes.push_back(make_limits_pass(work, place));
    if (making.has_steps()) passes.push_back(make_steps_pass(work, place));
    return passes;
}

}  // namespace rakelight
