// [blank]: the sizes of the piece, checked against one another.

#include <algorithm>
#include <array>
#include <cmath>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::array<Word<BlankShape>, 4> shapes{{{"round", BlankShape::round},
                                                  {"oval", BlankShape::oval},
                                                  {"rectangle", BlankShape::rectangle},
                                                  {"tag", BlankShape::tag}}};

struct HoleKeys {
    Found diameter, from_top;
};

double shorter_side_mm(const BlankSettings& blank) {
    return std::min(blank.width_mm, blank.height_mm);
}

std::string size_text(const BlankSettings& blank) {
    return "a blank of " + number_text(blank.width_mm) + " x " + number_text(blank.height_mm) +
           " mm";
}

void read_hole(TableReader table, std::optional<HoleSettings>& hole, HoleKeys& keys) {
    if (!table.present()) return;
    hole.emplace();
    keys.diameter = table.number("diameter_mm", hole->diameter_mm, positive_mm);
    keys.from_top = table.number("from_top_mm", hole->from_top_mm, positive_mm);
    table.finish();
}

/// Distance from a point on the upright middle line to an ellipse, inside or on it: at the nearer
/// tip, or, in a tall ellipse, where the normal goes through the point (set the derivative of the
/// squared distance to 0).
/// @param half  half width and half height
/// @param y     of the point, up from the middle
double depth_in_oval(glm::dvec2 half, double y) {
    const double tip = half.y - std::abs(y);
    const double bulge = half.y * half.y - half.x * half.x;
    if (bulge <= 0.0) return tip;
    const double sine = half.y * std::abs(y) / bulge;
    if (sine >= 1.0) return tip;
    return std::hypot(half.x * std::sqrt(1.0 - sine * sine), half.y * sine - std::abs(y));
}

/// The same in a rectangle whose corners are rounded; negative outside.
double depth_in_rectangle(glm::dvec2 half, double radius, double y) {
    const glm::dvec2 over = glm::dvec2(0.0, std::abs(y)) - half + radius;
    const glm::dvec2 corner = glm::max(over, 0.0);
    return radius - std::hypot(corner.x, corner.y) - std::min(std::max(over.x, over.y), 0.0);
}

/// How far inside the blank the hole's centre lies, mm; negative outside.
double depth_of_hole(const BlankSettings& blank) {
    const glm::dvec2 half{0.5 * blank.width_mm, 0.5 * blank.height_mm};
    const double shorter = std::min(half.x, half.y);
    const double y = half.y - blank.hole->from_top_mm;
    if (std::abs(y) >= half.y) return half.y - std::abs(y);
    switch (blank.shape) {
        case BlankShape::round:
            return half.y - std::abs(y);
        case BlankShape::oval:
            return depth_in_oval(half, y);
        case BlankShape::rectangle:
            return depth_in_rectangle(half, std::min(blank.corner_radius_mm, shorter), y);
        case BlankShape::tag:
            return depth_in_rectangle(half, shorter, y);
    }
    return 0.0;
}

void settle_height(TableReader& table, Report& report, BlankSettings& blank, BlankKeys& keys) {
    if (blank.shape != BlankShape::round) {
        table.need(keys.height, "the blank's height, as in height_mm = 50.0",
                   "Only a round blank may leave it out.", keys.shape);
        return;
    }
    if (keys.height.absent()) blank.height_mm = blank.width_mm;
    if (blank.height_mm != blank.width_mm) {
        misfit(report, {&keys.height, &keys.width, &keys.shape},
               "a height of " + number_text(blank.height_mm) + " on a round blank of width " +
                   number_text(blank.width_mm),
               "a height equal to the width, or none at all",
               "For two different sizes write shape = \"oval\".");
        // The checks that follow must not find a second fault in this one.
        blank.height_mm = blank.width_mm;
    }
}

void check_corners(Report& report, const BlankSettings& blank, const BlankKeys& keys) {
    const double most = 0.5 * shorter_side_mm(blank);
    if (blank.shape != BlankShape::rectangle && keys.corner_radius.sound()) {
        misfit(report, {&keys.corner_radius, &keys.shape},
               "a corner radius on a blank without corners", "shape = \"rectangle\" with it");
    } else if (blank.corner_radius_mm > most) {
        misfit(report, {&keys.corner_radius, &keys.width, &keys.height, &keys.shape},
               "a radius of " + number_text(blank.corner_radius_mm) + " mm on " + size_text(blank),
               "at most half of the shorter side, " + number_text(most) + " mm");
    }
}

void check_field(Report& report, const BlankSettings& blank, const BlankKeys& keys) {
    const double half = 0.5 * shorter_side_mm(blank);
    const double field_height = blank.height_mm - 2.0 * blank.rim_mm;
    if (blank.rim_mm >= half) {
        misfit(report, {&keys.rim, &keys.width, &keys.height, &keys.shape},
               "a rim of " + number_text(blank.rim_mm) + " mm on " + size_text(blank),
               "less than half of the shorter side, " + number_text(half) +
                   " mm, so that a field remains");
    } else if (blank.exergue_mm >= field_height) {
        misfit(report, {&keys.exergue, &keys.rim, &keys.height, &keys.width, &keys.shape},
               "an exergue of " + number_text(blank.exergue_mm) + " mm in a field " +
                   number_text(field_height) + " mm high",
               "less than the field's height");
    }
}

void check_hole(Report& report, const BlankSettings& blank, const BlankKeys& keys,
                const HoleKeys& hole) {
    if (!blank.hole) return;
    const double radius = 0.5 * blank.hole->diameter_mm;
    if (depth_of_hole(blank) > radius) return;
    misfit(report,
           {&hole.from_top, &hole.diameter, &keys.width, &keys.height, &keys.corner_radius,
            &keys.shape},
           "a hole of " + number_text(blank.hole->diameter_mm) + " mm whose centre lies " +
               number_text(blank.hole->from_top_mm) + " mm below the top of " + size_text(blank),
           "a hole that lies wholly inside the blank");
}

}  // namespace

BlankSettings read_blank(TableReader table, Report& report, BlankKeys& keys) {
    BlankSettings blank;
    HoleKeys hole;
    keys.shape = table.word("shape", blank.shape, shapes);
    keys.width = table.number("width_mm", blank.width_mm, positive_mm);
    keys.height = table.number("height_mm", blank.height_mm, positive_mm);
    keys.corner_radius = table.number("corner_radius_mm", blank.corner_radius_mm, zero_or_more_mm);
    keys.rim = table.number("rim_mm", blank.rim_mm, zero_or_more_mm);
    const Found rim_height = table.number("rim_height_mm", blank.rim_height_mm, zero_or_more_mm);
    keys.exergue = table.number("exergue_mm", blank.exergue_mm, zero_or_more_mm);
    read_hole(table.table("hole"), blank.hole, hole);
    table.finish();

    settle_height(table, report, blank, keys);
    check_corners(report, blank, keys);
    check_field(report, blank, keys);
    if (blank.rim_mm == 0.0 && rim_height.sound())
        misfit(report, {&rim_height, &keys.rim}, "the height of a rim on a blank without one",
               "its width with it, as in rim_mm = 1.2");
    check_hole(report, blank, keys, hole);
    return blank;
}

}  // namespace rakelight::scene_file
