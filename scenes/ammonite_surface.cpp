#include "ammonite_surface.hpp"

#include <array>
#include <cmath>
#include <glm/common.hpp>

#include "value_noise.hpp"

// Heights of ornament are in units of the whorl's height.
struct AmmoniteSurface::Place {
    double growth_rad;  // told along the growth line
    double angle_rad;   // where on the coil it lies
    SectionPoint section;
    glm::dvec3 plain_mm;  // before ornament; noise is rooted here
};

namespace {

constexpr double kShellThickness = 0.015;  // what is gone where the mould is laid bare
constexpr double kSutureDepth = 0.024;
constexpr glm::dvec2 kSectionMiddle(0.48, 0.0);

double bell(double x, double half_width) {
    return std::exp(-(x / half_width) * (x / half_width));
}

// How far a growth line runs ahead of its start at the umbilical shoulder: leaning forward down
// the umbilical wall, straight on the inner flank, swept forward to the keel.
double growth_line_sweep_rad(const SectionPoint& section) {
    constexpr double rounding = 0.10;  // no kink where the two flanks meet on the keel
    const double from_venter = 1.0 - section.flank;
    const double rounded = std::sqrt(from_venter * from_venter + rounding * rounding) - rounding;
    const double outward = glm::max(0.0, 1.0 - rounded);
    const double inward = glm::clamp(rounded - 1.0, 0.0, 0.7);
    return 0.06 * outward * outward + 0.09 * outward * outward * outward + 0.16 * inward * inward;
}

// A rounded keel between two shallow furrows.
double keel(double arc_from_venter) {
    return 0.046 * bell(arc_from_venter, 0.050) -
           0.014 * bell(std::abs(arc_from_venter) - 0.135, 0.055);
}

// Pauses in growth: a furrow along the growth line, and the flare of the lip in front of the
// last one. Ribs are weaker in them.
double constriction(double growth_rad) {
    constexpr std::array<double, 3> pauses_rad = {-0.135, -2.52, -8.15};
    double depth = 0.0;
    for (const double pause_rad : pauses_rad) depth += bell(growth_rad - pause_rad, 0.050);
    return depth;
}

double lip_flare(double growth_rad) {
    return bell(glm::min(growth_rad, 0.0), 0.06);
}

// Very fine and uneven; they fade on the inner whorls, where time has smoothed them.
double growth_lines(double growth_rad) {
    const double kept = glm::smoothstep(-2.2 * kTurn, -0.7 * kTurn, growth_rad);
    const double lines =
        value_noise(growth_rad * 52.0, 31) + 0.6 * value_noise(growth_rad * 97.0, 32);
    return 0.0016 * kept * lines;
}

}  // namespace

glm::dvec3 AmmoniteSurface::point_mm(const Station& station, double u) const {
    const double open = 1.0 - station.closure;
    Place place{};
    place.section = section_.at(u);
    place.growth_rad = station.growth_rad;
    place.angle_rad = station.growth_rad + open * growth_line_sweep_rad(place.section);
    place.plain_mm = coil_.place(place.angle_rad, place.section.place.x, place.section.place.y);
    const double raised = ornament(place) - station.inset;
    const glm::dvec2 wall = place.section.place + raised * place.section.outward;
    const glm::dvec2 drawn = glm::mix(kSectionMiddle, wall, open);
    return coil_.place(place.angle_rad, drawn.x, drawn.y);
}

double AmmoniteSurface::ornament(const Place& place) const {
    const double exposure = mould_exposure(place);
    const double pause = constriction(place.growth_rad);
    const double flare = lip_flare(place.growth_rad);
    const double seen = glm::smoothstep(-0.55, -0.2, place.section.flank);
    const double on_flank = 1.0 - 0.7 * bell(place.section.arc_from_venter, 0.22);
    double raised = keel(place.section.arc_from_venter) * (1.0 - 0.5 * flare);
    raised += worn_ribs(place, exposure) * (1.0 - 0.75 * glm::min(1.0, pause + flare));
    raised += seen * on_flank * (0.050 * flare - 0.034 * pause);
    raised += (1.0 - exposure) * growth_lines(place.growth_rad);
    raised += 0.0016 * rough_noise(place.plain_mm * 0.9, 41) +
              0.0009 * value_noise(place.plain_mm * 5.0, 42);
    if (exposure > 0.0) {
        const double groove = sutures_.groove(place.angle_rad, place.section);
        raised -= exposure * (kShellThickness + kSutureDepth * groove);
    }
    return raised;
}

// 1 where the shell has flaked off the chambered part of the last whorl, with ragged borders:
// only there, on the mould, are the sutures to be seen.
double AmmoniteSurface::mould_exposure(const Place& place) const {
    const double inside = 1.0 - std::abs(place.angle_rad - kFlakedMiddleRad) / kFlakedHalfLengthRad;
    if (inside < -0.5) return 0.0;
    const double ragged = 0.24 * rough_noise(place.plain_mm * 0.42, 51);
    return glm::smoothstep(0.0, 0.022, inside + ragged);
}

double AmmoniteSurface::worn_ribs(const Place& place, double exposure) const {
    const double patchy = 0.90 + 0.14 * rough_noise(place.plain_mm * 0.22, 61);
    const double height = ribs_.height(place.growth_rad, place.section.flank);
    return height * glm::min(1.0, patchy) * glm::mix(1.0, 0.62, exposure);
}
