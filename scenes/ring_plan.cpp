#include "ring_plan.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "tube_mesh.hpp"

namespace {

constexpr double kLipThickness = 0.024;  // in whorl heights
constexpr double kMouthDepthRad = 0.34;
constexpr double kMouthCoarseness = 2.0;  // hardly seen along the axis
constexpr double kMatrixHollowRad = 0.16;

// Sutures are narrow grooves: triangles' sides are so much shorter where they are to be seen.
constexpr double kEngravedFineness = 0.62;

// Lays out the rings for a given fineness, the length of a triangle's side at the aperture.
class RingPlan {
public:
    RingPlan(const AmmoniteSurface& surface, double side_at_aperture_mm)
        : surface_(surface), side_at_aperture_mm_(side_at_aperture_mm) {
        add_first_chamber();
        add_whorls();
        add_lip();
        add_mouth();
    }

    std::vector<PlannedRing> take() { return std::move(rings_); }

    std::size_t triangle_count() const {
        std::size_t count = 0;
        for (std::size_t i = 1; i < rings_.size(); ++i) {
            count += triangles_between(rings_[i - 1].size, rings_[i].size);
        }
        return count;
    }

private:
    // Finer on the small inner whorls, but less than they are smaller: the outer whorls, which
    // fill most of the picture, get most of the triangles. Finest where sutures are engraved.
    double side_mm(double growth_rad) const {
        const RaupCoil& coil = surface_.coil();
        const double size = coil.outer_radius_mm(std::min(0.0, growth_rad)) / coil.final_radius_mm;
        const bool engraved = std::abs(growth_rad - kFlakedMiddleRad) < 1.3 * kFlakedHalfLengthRad;
        return side_at_aperture_mm_ * std::pow(size, 0.3) * (engraved ? kEngravedFineness : 1.0);
    }

    double step_rad(double growth_rad) const {
        return side_mm(growth_rad) / (0.8 * surface_.coil().outer_radius_mm(growth_rad));
    }

    void add(const Station& station, double coarser = 1.0) {
        const double round_mm = surface_.section().weighted_perimeter() * (1.0 - station.closure) *
                                surface_.coil().whorl_height_mm(station.growth_rad);
        const double steps = round_mm / (coarser * side_mm(station.growth_rad));
        // In fours, so that the size changes at few rings only.
        const auto size = 4 * static_cast<std::size_t>(std::lround(steps / 4.0));
        rings_.push_back({station, station.closure >= 1.0 ? 1 : std::max<std::size_t>(8, size)});
    }

    void add_first_chamber() {
        constexpr int rings = 24;
        constexpr double length_rad = 2.6;
        for (int i = 0; i < rings; ++i) {
            const double turn_rad = 0.25 * kTurn * i / rings;
            const double first_rad = surface_.coil().first_angle_rad();
            add({first_rad - length_rad * std::cos(turn_rad), 0.0, 1.0 - std::sin(turn_rad)});
        }
    }

    void add_whorls() {
        double growth_rad = surface_.coil().first_angle_rad();
        while (growth_rad < -step_rad(growth_rad)) {
            add({growth_rad});
            growth_rad += step_rad(growth_rad);
        }
    }

    // Half a round from the outer to the inner wall.
    void add_lip() {
        constexpr int rings = 7;
        for (int i = 0; i <= rings; ++i) {
            const double turn_rad = 0.5 * kTurn * i / rings;
            const double ahead_rad = 0.35 * kLipThickness * std::sin(turn_rad);
            add({ahead_rad, 0.5 * kLipThickness * (1.0 - std::cos(turn_rad))});
        }
    }

    void add_mouth() {
        double growth_rad = -0.01;
        while (growth_rad > -kMouthDepthRad) {
            add({growth_rad, inner_wall(growth_rad)}, kMouthCoarseness);
            growth_rad -= kMouthCoarseness * step_rad(growth_rad);
        }
        add_matrix();
    }

    // The matrix that fills the shell behind the mouth, with a hollow face.
    void add_matrix() {
        const double reach_mm = 0.5 * surface_.coil().whorl_height_mm(0.0);
        const double steps = reach_mm / (kMouthCoarseness * side_mm(0.0));
        const int rings = std::max(6, static_cast<int>(std::lround(steps)));
        for (int i = 1; i <= rings; ++i) {
            const double closure = static_cast<double>(i) / rings;
            const double hollow_rad = kMatrixHollowRad * closure * (2.0 - closure);
            add({-kMouthDepthRad - hollow_rad, inner_wall(-kMouthDepthRad), closure},
                kMouthCoarseness);
        }
    }

    // The shell grows thicker inwards, so that the inner wall keeps clear of the outer one, ribs,
    // furrows and all, when triangles are few and large.
    static double inner_wall(double growth_rad) { return kLipThickness - 0.25 * growth_rad; }

    const AmmoniteSurface& surface_;
    double side_at_aperture_mm_;
    std::vector<PlannedRing> rings_;
};

}  // namespace

std::vector<PlannedRing> plan_rings(const AmmoniteSurface& surface, std::size_t triangles) {
    // Coarser sides, fewer triangles: halve the bracket, in ratio, until it is narrow enough.
    double fine_mm = 0.005;
    double coarse_mm = 5.0;
    for (int i = 0; i < 40; ++i) {
        const double middle_mm = std::sqrt(fine_mm * coarse_mm);
        const RingPlan plan(surface, middle_mm);
        (plan.triangle_count() > triangles ? fine_mm : coarse_mm) = middle_mm;
    }
    return RingPlan(surface, coarse_mm).take();
}
