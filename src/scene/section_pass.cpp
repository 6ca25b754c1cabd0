// [pass.*]: the images that are asked for. A pass is asked for by its table, however empty.

#include <algorithm>
#include <array>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr Range share = at_least(0.0);
/// Margins take codes from the subject; beyond this too few would remain.
constexpr double least_lost_share = 0.9;

void read_depth(TableReader table, Report& report, std::optional<DepthPass>& pass) {
    if (!table.present()) return;
    DepthPass& depth = pass.emplace();
    std::array<double, 2> range{};
    const Found near = table.number("near_margin", depth.near_margin, share);
    const Found far = table.number("far_margin", depth.far_margin, share);
    const Found fixed = table.numbers("range_mm", range, any_number.in("mm"), "near and far");
    table.truth("allow_clipping", depth.allow_clipping);
    table.finish();

    if (fixed.sound()) depth.range_mm = range;
    if (depth.near_margin + depth.far_margin >= least_lost_share) {
        misfit(report, {&near, &far},
               "margins that sum up to " + number_text(depth.near_margin + depth.far_margin),
               "near_margin and far_margin that sum up to less than 0.9");
    }
    if (fixed.sound() && range[0] >= range[1]) {
        misfit(report, {&fixed},
               "near " + number_text(range[0]) + " and far " + number_text(range[1]),
               "a near number below the far one");
    }
}

void read_occlusion(TableReader table, std::optional<OcclusionPass>& pass) {
    if (!table.present()) return;
    OcclusionPass& occlusion = pass.emplace();
    table.number("reach_mm", occlusion.reach_mm, positive_mm);
    table.finish();
}

void read_curvature(TableReader table, std::optional<CurvaturePass>& pass) {
    if (!table.present()) return;
    CurvaturePass& curvature = pass.emplace();
    table.number("scale_mm", curvature.scale_mm, positive_mm);
    table.number("h_max_per_mm", curvature.h_max_per_mm, above(0.0).in("1/mm"));
    table.truth("allow_clipping", curvature.allow_clipping);
    table.finish();
}

void read_contour(TableReader table, std::optional<ContourPass>& pass) {
    if (!table.present()) return;
    ContourPass& contour = pass.emplace();
    table.number("step_mm", contour.step_mm, positive_mm);
    table.finish();
}

void read_undercut(TableReader table, std::optional<UndercutPass>& pass) {
    if (!table.present()) return;
    UndercutPass& undercut = pass.emplace();
    table.number("least_mm", undercut.least_mm, positive_mm);
    table.number("most_mm", undercut.most_mm, above(0.0).in("mm"));
    table.truth("allow_clipping", undercut.allow_clipping);
    table.finish();
}

void read_steep(TableReader table, std::optional<SteepPass>& pass) {
    if (!table.present()) return;
    SteepPass& steep = pass.emplace();
    table.number("draft_deg", steep.draft_deg, at_least(0.1).up_to(89.0).in("degrees"));
    table.number("depth_scale", steep.depth_scale, above(0.0).up_to(1000.0));
    table.finish();
}

/// One image is called by each name, so that a name given twice would write one file twice.
void check_names(Report& report, const std::vector<std::string>& names, const Found& found) {
    for (auto name = names.begin(); name != names.end(); ++name) {
        if (std::find(names.begin(), name, *name) == name) continue;
        misfit(report, {&found}, shown(*name) + " twice", "each name once");
        return;
    }
}

void read_parts(TableReader table, Report& report, std::optional<PartsPass>& pass) {
    if (!table.present()) return;
    constexpr std::string_view wanted = "at least one part name, as in names = [\"shell\"]";
    PartsPass& parts = pass.emplace();
    Found names = table.texts("names", parts.names);
    table.truth("depth", parts.depth);
    table.need(names, wanted);
    table.finish();
    if (names.sound() && parts.names.empty()) {
        misfit(report, {&names}, "an empty array", std::string(wanted));
    }
    check_names(report, parts.names, names);
}

template <typename Pass>
void read_plain(TableReader table, std::optional<Pass>& pass) {
    if (table.present()) pass.emplace();
    table.finish();
}

}  // namespace

Table default_passes() {
    Table passes;
    for (const char* name :
         {"depth", "occlusion", "curvature", "silhouette", "contour", "normal", "blank"}) {
        passes.push_back({name, {}, {Table{}, {}}});
    }
    return passes;
}

PassSettings read_passes(TableReader table, Report& report) {
    PassSettings passes;
    read_depth(table.table("depth"), report, passes.depth);
    read_occlusion(table.table("occlusion"), passes.occlusion);
    read_curvature(table.table("curvature"), passes.curvature);
    read_plain(table.table("silhouette"), passes.silhouette);
    read_contour(table.table("contour"), passes.contour);
    read_plain(table.table("normal"), passes.normal);
    read_plain(table.table("blank"), passes.blank);
    read_undercut(table.table("undercut"), passes.undercut);
    read_steep(table.table("steep"), passes.steep);
    read_parts(table.table("parts"), report, passes.parts);
    table.finish();

    if (table.empty()) {
        const Found self = table.self();
        misfit(report, {&self}, "no pass in it", "at least one, as in [pass.depth]",
               "Without any [pass] the usual passes are made.");
    }
    return passes;
}

}  // namespace rakelight::scene_file
