#include "batch/relief_pass.hpp"

#include <algorithm>

#include "batch/proof_sheet.hpp"
#include "batch/ranged_pass.hpp"
#include "image/codes.hpp"
#include "image/lamps.hpp"
#include "image/proof.hpp"
#include "relief/height_normals.hpp"
#include "relief/recipe.hpp"

namespace rakelight {
namespace {

class ReliefPass final : public Pass {
public:
    ReliefPass(const ReliefSettings& relief, const BlankGeometry& blank, const PassPlace& place)
        : Pass(named_picture("relief"), place),
          settings_(relief),
          needs_(needs_of(relief)),
          scale_{place.grid.px_per_mm, blank.field_shorter_side_mm()},
          proof_(place.proof) {
        const double whole_mm = relief.base_mm + relief.height_mm;
        picture_.meaning = std::string("height in mm over the field; bright is ") +
                           (relief.sunk ? "low" : "high") +
                           (relief.mirrored ? "; left and right exchanged" : "");
        picture_.encoding = relief.sunk
                                ? "code = round(65535 (1 - h / whole_mm)); h = (1 - code / 65535) "
                                  "whole_mm"
                                : "code = round(65535 h / whole_mm); h = code whole_mm / 65535";
        picture_.numbers = {{"whole_mm", whole_mm},
                            {"mm_per_code", whole_mm / 65535.0},
                            {"worst_error_mm", whole_mm / 131070.0}};
    }

    void add(const PictureRows& rows) override {
        keep(rows, rows.planes.coverage, planes_.coverage);
        keep(rows, rows.planes.height_mm, planes_.height_mm);
        if (needs_.occlusion) keep(rows, rows.planes.occlusion, planes_.occlusion);
        if (needs_.curvature) keep(rows, rows.planes.curvature, planes_.curvature);
        if (needs_.contour) keep(rows, rows.planes.contour, planes_.contour);
    }

    void settle(const VisibleSubject&) override {
        const Relief relief = mix_relief(settings_, planes_, scale_);
        Spread spread;
        for (std::size_t i = 0; i < relief.height_mm.values.size(); ++i)
            if (planes_.coverage.values[i] > 0.0F) spread.add(relief.height_mm.values[i]);
        picture_.statistics = spread.numbers("_mm");
        picture_.figures = {{"depth_range_used", relief.depth_range_used},
                            {"range_used", relief.range_used}};
        for (std::size_t i = 0; i < relief.layers.size(); ++i) {
            const std::string layer = "layer_" + std::to_string(i + 1);
            picture_.figures.emplace_back(layer + "_black", relief.layers[i].black);
            picture_.figures.emplace_back(layer + "_white", relief.layers[i].white);
            picture_.figures.emplace_back(layer + "_clipped_share", relief.layers[i].clipped_share);
        }
        write(relief.height_mm);
        if (proof_) lit_ = lit(relief.height_mm);
    }

    std::optional<Image16> lit_panel() const override { return lit_; }

private:
    void keep(const PictureRows& rows, const Plane& from, Plane& to) const {
        if (to.values.empty()) to = Plane(grid_.width, grid_.height);
        std::copy(from.values.begin(), from.values.end(), &to.at(0, rows.first_row));
    }

    /// The finished piece's surface, without blank and rim.
    Image16 lit(const Plane& height_mm) const {
        const HeightNormals normals = normals_of(height_mm, scale_.px_per_mm);
        AreaReduction panel = panel_reduction(grid_);
        panel.add_rows(raking_light(normals.x, normals.y, normals.z,
                                    Plane(grid_.width, grid_.height, 1.0F), {}, usual_lamp_deg,
                                    usual_lamp_height_deg)
                           .codes);
        Image16 image = panel.image();
        encode_srgb(image);
        return image;
    }

    void write(const Plane& height_mm) {
        const double whole_mm = settings_.base_mm + settings_.height_mm;
        std::vector<std::uint16_t> codes(static_cast<std::size_t>(height_mm.width));
        for (int y = 0; y < height_mm.height; ++y) {
            for (int x = 0; x < height_mm.width; ++x) {
                const int from = settings_.mirrored ? height_mm.width - 1 - x : x;
                const double share = height_mm.at(from, y) / whole_mm;
                codes[static_cast<std::size_t>(x)] = encode_share(
                    static_cast<float>(settings_.sunk ? 1.0 - share : share), picture_.clipped);
            }
            file_.add_rows(picture_, codes);
        }
    }

    ReliefSettings settings_;
    ReliefNeeds needs_;
    ReliefScale scale_;
    ReliefPlanes planes_;
    bool proof_;
    std::optional<Image16> lit_;
};

}  // namespace

std::unique_ptr<Pass> make_relief_pass(const ReliefSettings& relief, const BlankGeometry& blank,
                                       const PassPlace& place) {
    return std::make_unique<ReliefPass>(relief, blank, place);
}

}  // namespace rakelight
