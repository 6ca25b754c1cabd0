#include "poses/pose_figures.hpp"

#include <algorithm>
#include <array>

namespace rakelight {
namespace {

constexpr std::array<PoseFigure, 8> table{{
    {"field_share", "field filled", "", Better::high, "share of the field that the subject covers",
     &PoseFigures::field_share},
    {"depth_mm", "depth", "mm", Better::low, "from the nearest visible point to the farthest",
     &PoseFigures::depth_mm},
    {"depth_evenness", "depth evenness", "", Better::high, "how evenly the codes of depth are used",
     &PoseFigures::depth_evenness},
    {"hidden_share", "hidden", "", Better::low,
     "share of the surface that faces the viewer, but lies behind the first hit",
     &PoseFigures::hidden_share},
    {"steep_share", "steep", "", Better::low, "share of what is seen beyond the wall angle",
     &PoseFigures::steep_share},
    {"crevice_share", "crevices", "", Better::high, "how much of what is seen lies in recesses",
     &PoseFigures::crevice_share},
    {"rim_gap_mm", "gap to the rim", "mm", Better::high,
     "from the subject to the field's edge; below 0 it reaches over", &PoseFigures::rim_gap_mm},
    {"off_middle_mm", "off the middle", "mm", Better::low,
     "from the field's middle to the middle of what is seen", &PoseFigures::off_middle_mm},
}};

}  // namespace

std::span<const PoseFigure> pose_figures() {
    return table;
}

const PoseFigure* find_pose_figure(std::string_view name) {
    const auto found = std::find_if(table.begin(), table.end(), [name](const PoseFigure& figure) {
        return figure.name == name;
    });
    return found == table.end() ? nullptr : &*found;
}

}  // namespace rakelight
