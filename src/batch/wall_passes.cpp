#include "batch/wall_passes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "batch/ranged_pass.hpp"
#include "image/codes.hpp"

namespace rakelight {
namespace {

// Sums of the undercut's figures over the picture.
class UndercutFigures {
public:
    void add(const RenderedPlanes& planes) {
        const Undercut<Plane>& undercut = planes.undercut;
        for (std::size_t i = 0; i < planes.coverage.values.size(); ++i) {
            const double covered = planes.coverage.values[i];
            if (covered <= 0.0) continue;
            visible_px_ += covered;
            hidden_px_ += undercut.hidden.values[i];
            layers_px_ += undercut.layers.values[i];
            backs_px_ += undercut.backs.values[i];
            empty_mm_px_ += undercut.empty_mm.values[i] * covered;
            empty_mm3_ += undercut.empty_mm3.values[i];
            behind_mm_ = std::max(behind_mm_, double{undercut.behind_mm.values[i]});
        }
    }
    bool inside_out() const { return backs_px_ > 0.5 * visible_px_; }
    std::vector<NamedNumber> numbers(double px_per_mm) const {
        const double mm2 = 1.0 / (px_per_mm * px_per_mm);
        const auto part = [](double of, double all) { return all > 0.0 ? of / all : 0.0; };
        return {{"hidden_share", part(hidden_px_, visible_px_)},
                {"mean_where_hidden_mm", part(empty_mm_px_, hidden_px_)},
                {"deepest_behind_mm", behind_mm_},
                {"hidden_surface_mm2", layers_px_ * mm2},
                {"hidden_surface_share", part(layers_px_, layers_px_ + visible_px_)},
                {"gap_volume_mm3", empty_mm3_},
                {"backs_share", part(backs_px_, visible_px_)}};
    }

private:
    double visible_px_ = 0.0;
    double hidden_px_ = 0.0;
    double layers_px_ = 0.0;
    double backs_px_ = 0.0;
    double empty_mm_px_ = 0.0;
    double empty_mm3_ = 0.0;
    double behind_mm_ = 0.0;
};

class UndercutPassWriter final : public RangedPass {
public:
    UndercutPassWriter(const UndercutPass& pass, const PassPlace& place)
        : RangedPass(named_picture("undercut"), place), settings_(pass) {
        picture_.meaning =
            "mm of empty space along the view axis between the first surface and the last one that "
            "faces the viewer, which the relief fills; 0 where nothing is hidden, and outside the "
            "subject";
        picture_.encoding = "code = round(65535 v / most_mm); v = code most_mm / 65535";
        picture_.clipping_allowed = pass.allow_clipping;
    }

    void add(const PictureRows& rows) override {
        const Plane& empty_mm = rows.planes.undercut.empty_mm;
        for (std::size_t i = 0; i < empty_mm.values.size(); ++i) {
            if (rows.planes.coverage.values[i] > 0.0F) spread_.add(empty_mm.values[i]);
        }
        figures_.add(rows.planes);
        kept_.append(empty_mm.values);
    }

    void settle(const VisibleSubject&) override {
        const LengthEncoding encoding{settings_.most_mm.value_or(spread_.high())};
        picture_.numbers = {{"least_mm", settings_.least_mm},
                            {"most_mm", encoding.most_mm},
                            {"mm_per_code", encoding.most_mm / 65535.0},
                            {"worst_error_mm", encoding.worst_error_mm()}};
        picture_.statistics = spread_.numbers("_mm");
        picture_.figures = figures_.numbers(grid_.px_per_mm);
        if (figures_.inside_out()) {
            picture_.warnings.emplace_back(
                "most of what is seen shows its back, so that what is solid and what is empty may "
                "be told wrongly; turn the faces of open surfaces outward");
        }
        picture_.enough = "most_mm = " + outward(spread_.high(), std::ceil);
        write_kept([&](float mm) { return encoding.encode(mm, picture_.clipped); });
    }

private:
    UndercutPass settings_;
    UndercutFigures figures_;
};

// The draft of a slope that the relief scales.
double draft_deg(double slope, double depth_scale) {
    return std::atan2(1.0, slope * depth_scale) * 180.0 / std::numbers::pi;
}

class SteepPassWriter final : public Pass {
public:
    SteepPassWriter(const SteepPass& pass, const PassPlace& place)
        : Pass(named_picture("steep"), place), settings_(pass) {
        picture_.meaning =
            "share of the pixel's area in which the relief has less than draft_deg of draft: walls "
            "that are too steep, and a line one pixel wide along steps in depth";
        picture_.encoding = "code = round(65535 v); v = code / 65535";
        picture_.numbers = {{"draft_deg", pass.draft_deg},
                            {"depth_scale", pass.depth_scale},
                            {"slope", steep_slope(pass)},
                            {"worst_error", 1.0 / 131070.0}};
    }

    void add(const PictureRows& rows) override {
        const Steep<Plane>& steep = rows.planes.steep;
        codes_.resize(steep.share.values.size());
        for (std::size_t i = 0; i < codes_.size(); ++i) {
            codes_[i] = encode_share(steep.share.values[i], picture_.clipped);
            const double covered = rows.planes.coverage.values[i];
            if (covered <= 0.0) continue;
            spread_.add(steep.share.values[i]);
            visible_px_ += covered;
            steep_px_ += steep.share.values[i];
            walls_px_ += steep.walls.values[i];
            slope_ = std::max(slope_, double{steep.slope.values[i]});
            step_mm_ = std::max(step_mm_, double{steep.step_mm.values[i]});
        }
        file_.add_rows(picture_, codes_);
    }

    void settle(const VisibleSubject&) override {
        picture_.statistics = spread_.numbers("");
        const auto of_visible = [&](double px) {
            return visible_px_ > 0.0 ? px / visible_px_ : 0.0;
        };
        picture_.figures = {{"steep_share", of_visible(steep_px_)},
                            {"wall_share", of_visible(walls_px_)},
                            {"step_share", of_visible(steep_px_ - walls_px_)},
                            {"least_draft_deg", draft_deg(slope_, settings_.depth_scale)},
                            {"highest_step_mm", step_mm_}};
    }

private:
    SteepPass settings_;
    Spread spread_;
    double visible_px_ = 0.0;
    double steep_px_ = 0.0;
    double walls_px_ = 0.0;
    double slope_ = 0.0;
    double step_mm_ = 0.0;
    std::vector<std::uint16_t> codes_;
};

}  // namespace

double steep_slope(const SteepPass& pass) {
    return 1.0 / (pass.depth_scale * std::tan(pass.draft_deg * std::numbers::pi / 180.0));
}

std::unique_ptr<Pass> make_steep_pass(const SteepPass& pass, const PassPlace& place) {
    return std::make_unique<SteepPassWriter>(pass, place);
}

std::unique_ptr<Pass> make_undercut_pass(const UndercutPass& pass, const PassPlace& place) {
    return std::make_unique<UndercutPassWriter>(pass, place);
}

}  // namespace rakelight
