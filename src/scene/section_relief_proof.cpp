// [relief.proof]: the pictures of the finished relief.

#include <cmath>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr int largest_px = 8192;
constexpr int most_sides = 36;
constexpr int most_turning = 72;

constexpr std::array<Word<ProofMaterial>, 11> materials{{{"bronze", ProofMaterial::bronze},
                                                         {"brass", ProofMaterial::brass},
                                                         {"copper", ProofMaterial::copper},
                                                         {"gold", ProofMaterial::gold},
                                                         {"silver", ProofMaterial::silver},
                                                         {"nickel", ProofMaterial::nickel},
                                                         {"tin", ProofMaterial::tin},
                                                         {"zinc", ProofMaterial::zinc},
                                                         {"iron", ProofMaterial::iron},
                                                         {"plaster", ProofMaterial::plaster},
                                                         {"wax", ProofMaterial::wax}}};

bool within(const std::array<double, 2>& point, const BlankSettings& blank) {
    return std::abs(point[0]) <= 0.5 * blank.width_mm &&
           std::abs(point[1]) <= 0.5 * blank.height_mm;
}

std::optional<CutLine> read_cut(TableReader& table, Report& report, const BlankSettings& blank) {
    std::vector<std::array<double, 2>> points;
    const Found cut =
        table.pairs("cut_mm", points, at_least(-longest_mm).up_to(longest_mm).in("mm"));
    if (!cut.sound()) return {};
    if (points.size() != 2 || points[0] == points[1]) {
        misfit(report, {&cut},
               points.size() == 2 ? "a cut from a point to itself"
                                  : "a cut through " + counted(points.size(), "point"),
               "two different points, as in cut_mm = [[-15.0, 0.0], [15.0, 0.0]]");
        return {};
    }
    for (const auto& point : points) {
        if (within(point, blank)) continue;
        misfit(report, {&cut},
               "the point [" + number_text(point[0]) + ", " + number_text(point[1]) +
                   "] beyond a blank of " + number_text(blank.width_mm) + " x " +
                   number_text(blank.height_mm) + " mm",
               "points on the blank, from its middle");
        return {};
    }
    return CutLine{points[0], points[1]};
}

}  // namespace

std::optional<ProofSettings> read_proof(TableReader table, Report& report,
                                        const BlankSettings& blank) {
    if (!table.present()) {
        table.finish();
        return {};
    }
    ProofSettings proof;
    table.number("lamp_deg", proof.lamp_deg, angle);
    table.number("lamp_height_deg", proof.lamp_height_deg, at_least(1.0).up_to(90.0).in("degrees"));
    table.word("material", proof.material, materials);
    table.number("patina", proof.patina, at_least(0.0).up_to(1.0));
    table.number("patina_mm", proof.patina_mm, positive_mm);
    table.whole("size_px", proof.size_px, 16, largest_px);
    table.whole("sides", proof.sides, 0, most_sides);
    table.whole("turning", proof.turning, 0, most_turning);
    proof.cut = read_cut(table, report, blank);
    table.finish();
    return proof;
}

}  // namespace rakelight::scene_file
