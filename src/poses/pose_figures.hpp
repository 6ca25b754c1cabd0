#pragma once
// Figures that help to choose a pose; docs/poses.md has their formulas.

#include <limits>
#include <span>
#include <string_view>

#include "batch/row_taker.hpp"
#include "framing/frame.hpp"

namespace rakelight {

/// Shares are of 1. What a pose's passes cannot tell is NaN, and null in JSON.
struct PoseFigures {
    static constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
    double field_share = unknown;     ///< of the field's area that the subject covers
    double depth_mm = unknown;        ///< from the nearest visible point to the farthest
    double depth_evenness = unknown;  ///< how evenly the depth codes are used, 0 to 1
    double hidden_share = unknown;    ///< of the surface that faces the viewer
    double steep_share = unknown;     ///< of the visible area, beyond the wall angle
    double crevice_share = unknown;   ///< how much of the visible area lies in recesses
    double rim_gap_mm = unknown;      ///< from the subject to the field's edge; below 0: over it
    double off_middle_mm = unknown;   ///< from the field's middle to that of what is seen
};

enum class Better { high, low };

/// One figure, for everybody who lists, sorts or explains them.
struct PoseFigure {
    std::string_view name;   ///< as in files and options: "field_share"
    std::string_view label;  ///< for people: "field filled"
    std::string_view unit;   ///< "" of a share, "mm"
    Better better;           ///< which end a maker usually looks for
    std::string_view meaning;
    double PoseFigures::*value;
};

/// All of them, in the order in which they are shown.
std::span<const PoseFigure> pose_figures();

/// The figure of that name, or null.
const PoseFigure* find_pose_figure(std::string_view name);

}  // namespace rakelight
