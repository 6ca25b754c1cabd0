// [pose], [framing] and [image]: how the model is turned, where it lies, and how finely it is
// drawn.

#include <algorithm>
#include <array>
#include <cmath>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::array<Word<Fit>, 3> fits{
    {{"field", Fit::field}, {"blank", Fit::blank}, {"none", Fit::none}}};
constexpr std::array<Word<Covers>, 2> covered{{{"blank", Covers::blank}, {"field", Covers::field}}};

/// The sides of the area that the subject is fitted into, mm.
glm::dvec2 room_mm(const BlankSettings& blank, Fit fit) {
    const glm::dvec2 sides{blank.width_mm, blank.height_mm};
    if (fit == Fit::blank) return sides;
    return sides - 2.0 * blank.rim_mm - glm::dvec2(0.0, blank.exergue_mm);
}

void check_margin(Report& report, const FramingSettings& framing, const BlankSettings& blank,
                  const BlankKeys& keys, const Found& fit, const Found& margin) {
    if (framing.fit == Fit::none) return;
    const glm::dvec2 room = room_mm(blank, framing.fit);
    const double half = 0.5 * std::min(room.x, room.y);
    // No room at all is a fault of the blank's own sizes.
    if (half <= 0.0 || framing.margin_mm < half) return;
    const bool in_field = framing.fit == Fit::field;
    misfit(report,
           {&margin, &fit, &keys.exergue, &keys.rim, &keys.width, &keys.height, &keys.shape},
           "a margin of " + number_text(framing.margin_mm) + " mm in a " +
               (in_field ? "field" : "blank") + " of " + number_text(room.x) + " x " +
               number_text(room.y) + " mm" + (in_field ? ", exergue left out" : ""),
           "less than half of the shorter side, " + number_text(half) +
               " mm, so that room for the subject remains");
}

/// mm_per_unit belongs to fit = "none", which has nothing else to take a size from.
void check_size_source(TableReader& table, Report& report, const FramingSettings& framing,
                       const Found& fit, const Found& margin, Found& mm_per_unit) {
    if (framing.fit == Fit::none) {
        table.need(mm_per_unit, "the size of one model unit on the blank, as in mm_per_unit = 1.0",
                   "fit = \"none\" takes the size from it.", fit);
        if (margin.sound()) {
            report.warn(margin.place, margin.key.label(), "has no effect with fit = \"none\"");
        }
    } else if (mm_per_unit.sound()) {
        misfit(report, {&mm_per_unit, &fit}, "a size together with a fit that sets the size itself",
               "fit = \"none\" with it", "To enlarge a fitted subject use zoom.");
    }
}

void check_picture(Report& report, const ImageSettings& image, const BlankSettings& blank,
                   const BlankKeys& keys, const Found& px_per_mm, const Found& covers) {
    const double rims = image.covers == Covers::field ? 2.0 * blank.rim_mm : 0.0;
    const glm::dvec2 sides{blank.width_mm - rims, blank.height_mm - rims};
    const double wide = std::round(sides.x * image.px_per_mm);
    const double high = std::round(sides.y * image.px_per_mm);
    if ((wide >= 1.0 && high >= 1.0) || std::min(sides.x, sides.y) <= 0.0) return;
    misfit(report, {&px_per_mm, &covers, &keys.width, &keys.height, &keys.rim, &keys.shape},
           "a picture of " + number_text(wide) + " x " + number_text(high) + " px",
           "at least one pixel each way");
}

}  // namespace

PoseSettings read_pose(TableReader table, Report& report) {
    PoseSettings pose;
    table.number("yaw_deg", pose.yaw_deg, angle);
    table.number("pitch_deg", pose.pitch_deg, angle);
    table.number("roll_deg", pose.roll_deg, angle);
    table.word("projection", pose.projection, projections);
    const Found view = table.number("view_deg", pose.view_deg, view_angle);
    table.finish();

    if (pose.projection == Projection::parallel && view.sound()) {
        report.warn(view.place, view.key.label(), "has no effect with projection = \"parallel\"");
    }
    return pose;
}

FramingSettings read_framing(TableReader table, Report& report, const BlankSettings& blank,
                             const BlankKeys& keys) {
    FramingSettings framing;
    std::array<double, 2> shift{0.0, 0.0};
    const Found fit = table.word("fit", framing.fit, fits);
    const Found margin = table.number("margin_mm", framing.margin_mm, zero_or_more_mm);
    table.truth("clear_hole", framing.clear_hole);
    table.numbers("shift_mm", shift, at_least(-longest_mm).up_to(longest_mm).in("mm"),
                  "right and up");
    table.number("zoom", framing.zoom, zoom_factor);
    Found mm_per_unit = table.number("mm_per_unit", framing.mm_per_unit, above(0.0));
    table.finish();

    framing.shift_mm = {shift[0], shift[1]};
    check_size_source(table, report, framing, fit, margin, mm_per_unit);
    check_margin(report, framing, blank, keys, fit, margin);
    return framing;
}

ImageSettings read_image(TableReader table, Report& report, const BlankSettings& blank,
                         const BlankKeys& keys) {
    ImageSettings image;
    const Found covers = table.word("covers", image.covers, covered);
    const Found px_per_mm = table.number("px_per_mm", image.px_per_mm, above(0.0).up_to(1000.0));
    const Found samples = table.whole("samples", image.samples, 1, 8);
    table.finish();

    if (samples.sound() && image.samples < 4) {
        report.warn(samples.place, samples.key.label(),
                    std::to_string(image.samples) + " per axis gives the silhouette " +
                        counted(static_cast<std::size_t>(image.samples * image.samples), "level") +
                        " of coverage; 4 gives 16");
    }
    check_picture(report, image, blank, keys, px_per_mm, covers);
    return image;
}

}  // namespace rakelight::scene_file
