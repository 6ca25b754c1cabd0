#include "batch/making_pass.hpp"

#include <array>
#include <cstdio>

#include "batch/proof_sheet.hpp"
#include "batch/ranged_pass.hpp"
#include "batch/relief_pass.hpp"
#include "image/codes.hpp"
#include "relief/making_limits.hpp"
#include "relief/sources.hpp"

namespace rakelight {
namespace {

/// Less of the piece than this is no warning: the tips of corners.
constexpr double warned_share = 0.001;

constexpr double steep_mark = 1.0 / 3.0, tall_mark = 2.0 / 3.0;

std::string text_of(const char* format, double value) {
    char text[64];
    std::snprintf(text, sizeof text, format, value);
    return text;
}

HeightBeyond beyond_of(const ReliefWork& work) {
    // Beyond a picture of the whole blank there is nothing; beyond one of the field there is.
    const glm::dvec2 blank_mm = work.blank().size_mm();
    const ImageGrid& grid = work.grid();
    const bool whole = (grid.width + 1) / grid.px_per_mm > blank_mm.x &&
                       (grid.height + 1) / grid.px_per_mm > blank_mm.y;
    return whole ? HeightBeyond(0.0F) : std::nullopt;
}

class LimitsPass final : public Pass {
public:
    LimitsPass(std::shared_ptr<ReliefWork> work, const PassPlace& place)
        : Pass(named_picture("relief-limits"), place),
          work_(std::move(work)),
          settings_(work_->settings().making),
          proof_(place.proof) {
        picture_.channels = 3;
        picture_.meaning =
            "what cannot be made: red, mm that ridges narrower than ridge_mm lose; green, mm that "
            "fill grooves narrower than groove_mm; blue, 1/3 where a wall is steeper than "
            "wall_deg, 2/3 where it is higher than tallest_mm, 1 where both; 0 can be made";
        picture_.encoding =
            "red, green: code = round(65535 v / whole_mm), v = code whole_mm / 65535; blue: code = "
            "round(65535 v), v = code / 65535";
    }

    void add(const PictureRows&) override {}

    void settle(const VisibleSubject&) override {
        const Relief& relief = work_->relief();
        whole_mm_ = relief.high_mm - relief.low_mm;
        const double least_mm =
            least_loss_mm(settings_, steps_of(settings_, relief.low_mm, relief.high_mm));
        describe(least_mm);
        const Plane piece = drawn_source({"", RegionSource{"blank"}}, work_->blank(), grid_).value;
        const MakingLimits limits = making_limits(
            settings_, {relief.height_mm, piece, grid_.px_per_mm, beyond_of(*work_)}, least_mm);
        measure(limits);
        write(limits);
        if (proof_) panel_ = marked(lit_panel_of(relief.height_mm, grid_), limits);
    }

    std::optional<Image16> panel() const override { return panel_; }
    std::string caption() const override {
        std::vector<std::string> kinds;
        if (settings_.ridge_mm) kinds.emplace_back("red ridges");
        if (settings_.groove_mm) kinds.emplace_back("green grooves");
        if (settings_.wall_deg) kinds.emplace_back("blue walls");
        if (settings_.tallest_mm) kinds.emplace_back("violet tall");
        std::string text = picture_.name + "\n" + kinds.front();
        for (std::size_t i = 1; i < kinds.size(); ++i)
            text += (i == 3 ? ",\n" : ", ") + kinds[i];  // three of them fill a line
        return text;
    }

private:
    void describe(double least_mm) {
        picture_.numbers = {{"whole_mm", whole_mm_},
                            {"mm_per_code", whole_mm_ / 65535.0},
                            {"worst_error_mm", whole_mm_ / 131070.0},
                            {"least_mm", least_mm}};
        const auto add = [&](const char* name, const std::optional<double>& value) {
            if (value) picture_.numbers.emplace_back(name, *value);
        };
        add("ridge_mm", settings_.ridge_mm);
        add("groove_mm", settings_.groove_mm);
        add("wall_deg", settings_.wall_deg);
        add("tallest_mm", settings_.tallest_mm);
    }

    struct Words {
        std::string key, what, unit, worst;
    };

    void measure(const MakingLimits& limits) {
        report(limits.ridges, {"ridges_lost",
                               "ridges narrower than ridge_mm = " +
                                   text_of("%.4g", settings_.ridge_mm.value_or(0)) + " are lost",
                               "_mm", "up to %.3g mm of height"});
        report(limits.grooves,
               {"grooves_filled",
                "grooves narrower than groove_mm = " +
                    text_of("%.4g", settings_.groove_mm.value_or(0)) + " are filled",
                "_mm", "by up to %.3g mm"});
        report(limits.walls, {"steep_walls",
                              "walls are steeper than wall_deg = " +
                                  text_of("%.4g", settings_.wall_deg.value_or(0)),
                              "_deg", "the steepest %.3g degrees"});
        report(limits.tall, {"too_tall",
                             "it is higher than tallest_mm = " +
                                 text_of("%.4g", settings_.tallest_mm.value_or(0)),
                             "_mm", "by up to %.3g mm"});
        warn_of_pixels("ridge_mm", settings_.ridge_mm);
        warn_of_pixels("groove_mm", settings_.groove_mm);
    }

    void report(const std::optional<LimitFigures>& figures, const Words& words) {
        if (!figures) return;
        picture_.figures.emplace_back(words.key + "_share", figures->share);
        picture_.figures.emplace_back(words.key + "_mm2", figures->mm2);
        picture_.figures.emplace_back(words.key + "_worst" + words.unit, figures->worst);
        if (figures->share <= warned_share) return;
        picture_.warnings.push_back(words.what + " on " + text_of("%.3g", 100.0 * figures->share) +
                                    " % of the piece (" + text_of("%.3g", figures->mm2) +
                                    " mm2), " + text_of(words.worst.c_str(), figures->worst));
    }

    void warn_of_pixels(const char* key, const std::optional<double>& tool_mm) {
        if (!tool_mm || *tool_mm * grid_.px_per_mm >= 1.5) return;
        picture_.warnings.push_back(std::string(key) + " = " + text_of("%.4g", *tool_mm) +
                                    " is less than 1.5 pixels, so that nothing so narrow shows; "
                                    "a higher image.px_per_mm would show it");
    }

    std::uint16_t length_code(const Plane& lengths_mm, std::size_t i) {
        if (lengths_mm.values.empty()) return 0;
        // Both lie within the map's whole height but for rounding.
        return encode_share(std::min(lengths_mm.values[i] / whole_mm_, 1.0), picture_.clipped);
    }

    static double mark(const MakingLimits& limits, std::size_t i) {
        const bool steep = !limits.too_steep.values.empty() && limits.too_steep.values[i] > 0.0F;
        const bool tall = !limits.too_tall_mm.values.empty() && limits.too_tall_mm.values[i] > 0.0F;
        return (steep ? steep_mark : 0.0) + (tall ? tall_mark : 0.0);
    }

    void write(const MakingLimits& limits) {
        const auto width = static_cast<std::size_t>(grid_.width);
        std::vector<std::uint16_t> codes(3 * width);
        for (int y = 0; y < grid_.height; ++y) {
            for (std::size_t x = 0; x < width; ++x) {
                const std::size_t from = work_->settings().mirrored ? width - 1 - x : x;
                const std::size_t i = static_cast<std::size_t>(y) * width + from;
                codes[3 * x] = length_code(limits.ridge_lost_mm, i);
                codes[3 * x + 1] = length_code(limits.groove_filled_mm, i);
                codes[3 * x + 2] = encode_share(mark(limits, i), picture_.clipped);
            }
            file_.add_rows(picture_, codes);
        }
    }

    /// The lit relief in greys with what cannot be made in colour, the more so the worse it is. A
    /// mark is no thinner than a panel's pixel.
    Image16 marked(const Image16& lit, const MakingLimits& limits) const {
        Image16 panel(lit.width, lit.height, 3);
        for (std::size_t i = 0; i < lit.codes.size(); ++i)
            std::fill_n(&panel.codes[3 * i], 3, static_cast<std::uint16_t>(0.75 * lit.codes[i]));
        // The later ones hide the earlier.
        paint(limits.too_tall_mm, {0.72, 0.36, 0.95}, lit, panel);
        paint(limits.too_steep, {0.20, 0.50, 1.00}, lit, panel);
        paint(limits.groove_filled_mm, {0.20, 0.85, 0.35}, lit, panel);
        paint(limits.ridge_lost_mm, {1.00, 0.20, 0.15}, lit, panel);
        if (work_->settings().mirrored) mirror(panel);
        return panel;
    }

    /// @param colour  sRGB
    static void paint(const Plane& where, const std::array<double, 3>& colour, const Image16& lit,
                      Image16& panel) {
        if (where.values.empty()) return;
        const Plane most = most_within(where, lit.width, lit.height);
        const float worst = *std::max_element(most.values.begin(), most.values.end());
        for (std::size_t i = 0; i < most.values.size(); ++i) {
            if (most.values[i] <= 0.0F) continue;
            const double strength = 0.4 + 0.6 * std::sqrt(most.values[i] / worst);
            const double light = 65535.0 * (0.5 + 0.5 * lit.codes[i] / 65535.0);
            for (std::size_t c = 0; c < 3; ++c) {
                std::uint16_t& code = panel.codes[3 * i + c];
                code = static_cast<std::uint16_t>(code + strength * (light * colour[c] - code));
            }
        }
    }

    /// Made smaller by the largest value that each pixel holds.
    static Plane most_within(const Plane& plane, int width, int height) {
        Plane most(width, height);
        for (int y = 0; y < plane.height; ++y) {
            const auto to_y = static_cast<int>(std::int64_t{y} * height / plane.height);
            for (int x = 0; x < plane.width; ++x) {
                float& to = most.at(static_cast<int>(std::int64_t{x} * width / plane.width), to_y);
                to = std::max(to, plane.at(x, y));
            }
        }
        return most;
    }

    static void mirror(Image16& image) {
        const auto width = static_cast<std::size_t>(image.width);
        for (int y = 0; y < image.height; ++y) {
            std::uint16_t* row = &image.codes[3 * width * static_cast<std::size_t>(y)];
            for (std::size_t x = 0; x < width / 2; ++x)
                std::swap_ranges(row + 3 * x, row + 3 * x + 3, row + 3 * (width - 1 - x));
        }
    }

    std::shared_ptr<ReliefWork> work_;
    const MakingSettings& settings_;
    bool proof_;
    double whole_mm_ = 0.0;
    std::optional<Image16> panel_;
};

class StepsPass final : public Pass {
public:
    StepsPass(std::shared_ptr<ReliefWork> work, const PassPlace& place)
        : Pass(named_picture("relief-steps"), place), work_(std::move(work)), proof_(place.proof) {
        picture_.meaning =
            "height in mm less that of the nearest step of the target; steps rise from low_mm by "
            "step_mm";
        picture_.encoding =
            "code = 32768 + round(32767 v / (step_mm / 2)); v = (code - 32768) (step_mm / 2) / "
            "32767";
    }

    void add(const PictureRows&) override {}

    void settle(const VisibleSubject&) override {
        const Relief& relief = work_->relief();
        const Plane& coverage = work_->planes().coverage;
        const Steps steps =
            steps_of(work_->settings().making, relief.low_mm, relief.high_mm).value();
        const SignedEncoding encoding{0.5 * steps.step_mm};
        picture_.numbers = {{"low_mm", steps.low_mm},
                            {"step_mm", steps.step_mm},
                            {"worst_error_mm", encoding.worst_error()}};
        const StepFigures figures =
            step_figures(steps, relief.height_mm, coverage, grid_.px_per_mm);
        picture_.figures = {{"steps_used", static_cast<double>(figures.used)},
                            {"rms_mm", figures.rms_mm},
                            {"largest_mm", figures.largest_mm},
                            {"area_mm2", figures.mm2}};
        Spread spread;
        for (std::size_t i = 0; i < coverage.values.size(); ++i)
            if (coverage.values[i] > 0.0F) spread.add(steps.beside_mm(relief.height_mm.values[i]));
        picture_.statistics = spread.numbers("_mm");
        write(steps, encoding, relief.height_mm);
        if (proof_)
            panels_.push_back({"relief in steps under the same lamp",
                               lit_panel_of(stepped_mm(steps, relief.height_mm), grid_)});
    }

    std::vector<ProofPanel> more_panels() const override { return panels_; }

private:
    static Plane stepped_mm(const Steps& steps, Plane height_mm) {
        for (float& mm : height_mm.values) mm -= static_cast<float>(steps.beside_mm(mm));
        return height_mm;
    }

    void write(const Steps& steps, const SignedEncoding& encoding, const Plane& height_mm) {
        std::vector<std::uint16_t> codes(static_cast<std::size_t>(height_mm.width));
        for (int y = 0; y < height_mm.height; ++y) {
            for (int x = 0; x < height_mm.width; ++x) {
                const int from = work_->settings().mirrored ? height_mm.width - 1 - x : x;
                codes[static_cast<std::size_t>(x)] =
                    encoding.encode(steps.beside_mm(height_mm.at(from, y)), picture_.clipped);
            }
            file_.add_rows(picture_, codes);
        }
    }

    std::shared_ptr<ReliefWork> work_;
    bool proof_;
    std::vector<ProofPanel> panels_;
};

}  // namespace

std::unique_ptr<Pass> make_limits_pass(std::shared_ptr<ReliefWork> work, const PassPlace& place) {
    return std::make_unique<LimitsPass>(std::move(work), place);
}

std::unique_ptr<Pass> make_steps_pass(std::shared_ptr<ReliefWork> work, const PassPlace& place) {
    return std::make_unique<StepsPass>(std::move(work), place);
}

}  // namespace rakelight
