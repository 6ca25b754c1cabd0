#include "batch/passes.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <functional>
#include <limits>

#include "batch/part_passes.hpp"
#include "batch/ranged_pass.hpp"
#include "batch/relief_pass.hpp"
#include "batch/wall_passes.hpp"
#include "image/codes.hpp"

namespace rakelight {
namespace {

constexpr double share_error = 1.0 / 131070.0;

constexpr double least_h_max_per_mm = 1e-4;  // a radius of 10 m

// A share of the pixel, of the hemisphere ...
class SharePass final : public Pass {
public:
    using Choice = std::function<const Plane&(const PictureRows&)>;

    SharePass(const std::string& name, const std::string& meaning, const PassPlace& place,
              Choice choice, const std::vector<NamedNumber>& numbers = {})
        : Pass(named_picture(name), place), choice_(std::move(choice)) {
        picture_.meaning = meaning;
        picture_.encoding = "code = round(65535 v); v = code / 65535";
        picture_.numbers = numbers;
        picture_.numbers.emplace_back("worst_error", share_error);
    }

    void add(const PictureRows& rows) override {
        const Plane& plane = choice_(rows);
        const Plane& coverage = rows.planes.coverage;
        codes_.resize(plane.values.size());
        for (std::size_t i = 0; i < codes_.size(); ++i) {
            codes_[i] = encode_share(plane.values[i], picture_.clipped);
            if (coverage.values[i] > 0.0F) spread_.add(plane.values[i]);
            is_empty_ = is_empty_ && plane.values[i] <= 0.0F;
        }
        file_.add_rows(picture_, codes_);
    }

    void settle(const VisibleSubject&) override {
        picture_.statistics = spread_.numbers("");
        if (is_empty_ && !when_empty_.empty()) picture_.warnings.push_back(when_empty_);
    }

    /// What a picture that is black all over is warned of with.
    void warn_when_empty(std::string words) { when_empty_ = std::move(words); }

private:
    Choice choice_;
    Spread spread_;
    bool is_empty_ = true;
    std::string when_empty_;
    std::vector<std::uint16_t> codes_;
};

class NormalPassWriter final : public Pass {
public:
    explicit NormalPassWriter(const PassPlace& place) : Pass(named_picture("normal"), place) {
        picture_.channels = 3;
        picture_.meaning =
            "unit normal in view space: red +x right, green +y up, blue +z to the viewer; "
            "outside the subject (0, 0, 1)";
        picture_.encoding = "code = round(65535 (v + 1) / 2); v = 2 code / 65535 - 1, each channel";
        picture_.numbers = {{"worst_error", 1.0 / 65535.0}};
    }

    void add(const PictureRows& rows) override {
        const RenderedPlanes& planes = rows.planes;
        codes_.resize(3 * planes.coverage.values.size());
        for (std::size_t i = 0; i < planes.coverage.values.size(); ++i) {
            codes_[3 * i] = encode_normal_component(planes.normal_x.values[i]);
            codes_[3 * i + 1] = encode_normal_component(planes.normal_y.values[i]);
            codes_[3 * i + 2] = encode_normal_component(planes.normal_z.values[i]);
        }
        file_.add_rows(picture_, codes_);
    }

    void settle(const VisibleSubject&) override {}

private:
    std::vector<std::uint16_t> codes_;
};

class DepthPassWriter final : public RangedPass {
public:
    DepthPassWriter(const DepthPass& pass, const PassPlace& place)
        : RangedPass(named_picture("depth"), place), settings_(pass) {
        picture_.meaning =
            "z in mm along the view axis from the plane through the subject's centre, away from "
            "the viewer positive; near is bright; outside the subject 0";
        picture_.encoding = depth_formula;
        picture_.clipping_allowed = pass.allow_clipping;
    }

    void add(const PictureRows& rows) override {
        const Plane& coverage = rows.planes.coverage;
        std::vector<float> heights_mm = rows.planes.height_mm.values;
        for (std::size_t i = 0; i < heights_mm.size(); ++i) {
            if (coverage.values[i] > 0.0F) {
                spread_.add(-double{heights_mm[i]});
            } else {
                heights_mm[i] = nothing;
            }
        }
        kept_.append(heights_mm);
    }

    void settle(const VisibleSubject& visible) override {
        DepthEncoding encoding{visible.near_mm, visible.far_mm, settings_.near_margin,
                               settings_.far_margin};
        if (settings_.range_mm) {
            encoding.near_mm = (*settings_.range_mm)[0];
            encoding.far_mm = (*settings_.range_mm)[1];
        }
        describe(encoding, visible);
        write_kept([&](float height_mm) -> std::uint16_t {
            if (height_mm == nothing) return 0;
            // What was flat but for rounding has become flat.
            const double z_mm = std::min(-double{height_mm}, visible.far_mm);
            return encoding.encode(z_mm, picture_.clipped);
        });
    }

private:
    void describe(const DepthEncoding& encoding, const VisibleSubject& visible) {
        picture_.numbers = {
            {"near_mm", encoding.near_mm},           {"far_mm", encoding.far_mm},
            {"near_margin", encoding.near_margin},   {"far_margin", encoding.far_margin},
            {"mm_per_code", encoding.mm_per_code()}, {"worst_error_mm", encoding.worst_error_mm()}};
        picture_.statistics = spread_.numbers("_mm");
        if (visible.near_mm == visible.far_mm) {
            for (auto& [name, value] : picture_.statistics) value = visible.near_mm;
        }
        picture_.enough = "range_mm = [" + outward(spread_.low(), std::floor) + ", " +
                          outward(spread_.high(), std::ceil) + "]";
    }

    static constexpr float nothing = -std::numeric_limits<float>::infinity();
    DepthPass settings_;
};

class CurvaturePassWriter final : public RangedPass {
public:
    CurvaturePassWriter(const CurvaturePass& pass, const PassPlace& place)
        : RangedPass(named_picture("curvature"), place), settings_(pass) {
        picture_.meaning =
            "mean curvature in 1/mm at scale_mm, convex positive; outside the subject 0";
        picture_.encoding =
            "code = 32768 + round(32767 h / h_max_per_mm); h = (code - 32768) "
            "h_max_per_mm / 32767";
        picture_.clipping_allowed = pass.allow_clipping;
    }

    void add(const PictureRows& rows) override {
        const Plane& curvature = rows.planes.curvature;
        for (std::size_t i = 0; i < curvature.values.size(); ++i) {
            if (rows.planes.coverage.values[i] > 0.0F) spread_.add(curvature.values[i]);
        }
        kept_.append(curvature.values);
    }

    void settle(const VisibleSubject&) override {
        // A flat plate has none but the noise of its arithmetic, which must not fill the codes.
        const double largest = std::max(spread_.magnitude(), least_h_max_per_mm);
        const SignedEncoding encoding{settings_.h_max_per_mm.value_or(largest)};
        picture_.numbers = {{"scale_mm", settings_.scale_mm},
                            {"h_max_per_mm", encoding.h_max},
                            {"worst_error_per_mm", encoding.worst_error()}};
        picture_.statistics = spread_.numbers("_per_mm");
        picture_.enough = "h_max_per_mm = " + outward(spread_.magnitude(), std::ceil);
        write_kept([&](float h) { return encoding.encode(h, picture_.clipped); });
    }

private:
    CurvaturePass settings_;
};

// A file name keeps letters, digits, '.', '-' and '_' of a part's name. Letters beyond ASCII are
// not kept: which of them differ by case alone, on a disk for which that is no difference, and in
// which form it writes them, is another matter on each system.
std::string file_safe(const std::string& name) {
    std::string safe;
    for (const char c : name) {
        const bool continues = (static_cast<unsigned char>(c) & 0xC0) == 0x80;  // in UTF-8
        if (continues) continue;
        const bool kept = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                          (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '_';
        safe += kept ? c : '_';
    }
    return safe;
}

// Many disks take capital and small letters for the same.
bool is_same_file(const std::string& a, const std::string& b) {
    const auto small = [](char c) { return c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : int{c}; };
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [&](char x, char y) { return small(x) == small(y); });
}

// Two parts whose names differ only in what a file name cannot keep still get two files.
void make_unique(std::vector<std::string>& names) {
    for (auto name = names.begin(); name != names.end(); ++name) {
        const std::string wanted = *name;
        const auto is_taken = [&] {
            return std::any_of(names.begin(), name, [&](const std::string& other) {
                return is_same_file(other, *name);
            });
        };
        for (int n = 2; is_taken(); ++n) *name = wanted + "-" + std::to_string(n);
    }
}

// What the files of each part are called, but for "-depth".
std::vector<std::string> part_stems(const std::vector<std::string>& part_names) {
    std::vector<std::string> stems;
    for (const std::string& name : part_names) stems.push_back("part-" + file_safe(name));
    make_unique(stems);
    return stems;
}

// The passes' names in the order of make_passes.
std::vector<std::string> pass_names(const Scene& scene, const BlankGeometry& blank,
                                    const std::vector<std::string>& part_names) {
    const PassSettings& settings = scene.passes;
    std::vector<std::string> names;
    const auto add = [&](const char* name, bool wanted) {
        if (wanted) names.emplace_back(name);
    };
    add("depth", settings.depth.has_value());
    add("occlusion", settings.occlusion.has_value());
    add("curvature", settings.curvature.has_value());
    add("silhouette", settings.silhouette.has_value());
    add("contour", settings.contour.has_value());
    add("normal", settings.normal.has_value());
    add("undercut", settings.undercut.has_value());
    add("steep", settings.steep.has_value());
    for (const std::string& stem : part_stems(part_names)) {
        names.push_back(stem);
        if (settings.parts && settings.parts->depth) names.push_back(stem + "-depth");
    }
    if (settings.blank) {
        for (const auto& region : blank_regions(blank))
            names.push_back(region == "blank" ? "blank" : "blank-" + region);
    }
    if (scene.relief) {
        const auto of_relief = relief_pass_names(*scene.relief);
        names.insert(names.end(), of_relief.begin(), of_relief.end());
    }
    return names;
}

}  // namespace

std::vector<std::string> pass_files(const Scene& scene, const BlankGeometry& blank,
                                    const std::vector<std::string>& part_names) {
    auto names = pass_names(scene, blank, part_names);
    make_unique(names);
    for (auto& name : names) name = output_name(scene, name, ".png");
    return names;
}

double occlusion_reach_mm(const OcclusionPass& pass, const BlankGeometry& blank) {
    return pass.reach_mm.value_or(blank.field_shorter_side_mm() / 8.0);
}

double contour_step_mm(const ContourPass& pass, const BlankGeometry& blank) {
    return pass.step_mm.value_or(0.02 * blank.field_shorter_side_mm());
}

std::vector<std::unique_ptr<Pass>> make_passes(const Scene& scene, const BlankGeometry& blank,
                                               const std::vector<std::string>& part_names,
                                               const std::shared_ptr<ReliefWork>& relief,
                                               const PassPlace& place) {
    const PassSettings& settings = scene.passes;
    std::vector<std::unique_ptr<Pass>> passes;
    const auto share = [&](const std::string& name, const std::string& meaning, auto choice,
                           const std::vector<NamedNumber>& numbers = {}) {
        passes.push_back(std::make_unique<SharePass>(name, meaning, place, choice, numbers));
    };
    using Rows = const PictureRows&;
    if (settings.depth) passes.push_back(std::make_unique<DepthPassWriter>(*settings.depth, place));
    if (settings.occlusion) {
        share("occlusion",
              "cosine-weighted share of the hemisphere that is open within reach_mm; 1 is fully "
              "open, and so is all outside the subject",
              [](Rows rows) -> const Plane& { return rows.planes.occlusion; },
              {{"reach_mm", occlusion_reach_mm(*settings.occlusion, blank)}});
    }
    if (settings.curvature) {
        passes.push_back(std::make_unique<CurvaturePassWriter>(*settings.curvature, place));
    }
    if (settings.silhouette) {
        share("silhouette", "share of the pixel's area that the subject covers",
              [](Rows rows) -> const Plane& { return rows.planes.coverage; });
    }
    if (settings.contour) {
        share("contour",
              "share of the pixel that a line one pixel wide covers, along the outline and along "
              "depth steps of more than step_mm",
              [](Rows rows) -> const Plane& { return rows.planes.contour; },
              {{"step_mm", contour_step_mm(*settings.contour, blank)}});
    }
    if (settings.normal) passes.push_back(std::make_unique<NormalPassWriter>(place));
    if (settings.undercut) {
        passes.push_back(make_undercut_pass(*settings.undercut, place));
    }
    if (settings.steep) passes.push_back(make_steep_pass(*settings.steep, place));
    const std::vector<std::string> stems = part_stems(part_names);
    for (std::size_t i = 0; i < part_names.size(); ++i) {
        auto mask = std::make_unique<SharePass>(
            stems[i],
            "share of the pixel's area in which the part \"" + part_names[i] +
                "\" is the visible one",
            place, [i](Rows rows) -> const Plane& { return rows.planes.masks[i]; });
        mask->warn_when_empty("no pixel shows the part");
        passes.push_back(std::move(mask));
        if (!settings.parts || !settings.parts->depth) continue;
        passes.push_back(make_part_depth_pass({part_names[i], stems[i], i},
                                              settings.depth.value_or(DepthPass{}), place));
    }
    if (settings.blank) {
        const auto regions = blank_regions(blank);
        for (std::size_t i = 0; i < regions.size(); ++i) {
            share(regions[i] == "blank" ? "blank" : "blank-" + regions[i],
                  "share of the pixel's area that belongs to the blank's region",
                  [i](Rows rows) -> const Plane& { return rows.masks[i].coverage; });
        }
    }
    if (relief) {
        for (auto& pass : make_relief_passes(relief, place)) passes.push_back(std::move(pass));
    }
    const auto files = pass_files(scene, blank, part_names);
    assert(files.size() == passes.size());
    for (std::size_t i = 0; i < files.size(); ++i) passes[i]->rename_file(files[i]);
    return passes;
}

}  // namespace rakelight
