// The form of the shell before any ornament: a whorl section carried round the coiling axis.
#pragma once

#include <glm/vec2.hpp>
#include <glm/vec3.hpp>
#include <numbers>
#include <vector>

inline constexpr double kTurn = 2.0 * std::numbers::pi;

// The four parameters of D. M. Raup, "Geometric analysis of shell coiling: general problems",
// Journal of Paleontology 40 (1966), 1178-1190, and what ties them to a shell of a given size.
// Growth is told as the angle left to the aperture: 0 at the aperture, -2 pi one whorl earlier.
struct RaupCoil {
    double whorl_expansion_w = 1.88;      // W: how much the shell widens in one whorl
    double axis_distance_d = 0.435;       // D: inner margin / outer margin, from the axis
    double section_shape_s = 0.80;        // S: width / height of the generating curve
    double translation_t = 0.0;           // T: 0, the shell coils in one plane
    double final_radius_mm = 17.4;        // from the axis to the venter at the aperture
    double whorl_count = 5.6;             // grown from the first chamber to the aperture
    double aperture_bearing_rad = -0.62;  // where the aperture stands, from +x towards +y

    double outer_radius_mm(double angle_rad) const;
    double axis_distance(double angle_rad) const;
    double whorl_height_mm(double angle_rad) const;
    double first_angle_rad() const { return -whorl_count * kTurn; }

    // The point at an angle; radial runs from 0 at the inner to 1 at the outer margin, and axial
    // stands out from the plane of coiling: both in units of the whorl's height there.
    glm::dvec3 place(double angle_rad, double radial, double axial) const;
};

// A place on the generating curve; lengths are in units of the whorl's height.
struct SectionPoint {
    glm::dvec2 place;        // radial and axial, as RaupCoil::place takes them
    glm::dvec2 outward;      // unit normal
    double arc_from_venter;  // along the curve, signed: positive on the +z flank
    double flank;            // 0 at the umbilical shoulder, 1 at the venter; < 0 further in
};

// The generating curve: an ammonite's whorl section with flattened flanks that converge on a
// narrow venter, a rounded umbilical shoulder and a steep umbilical wall.
class WhorlSection {
public:
    explicit WhorlSection(double section_shape_s);

    // Walks round once for u in [0, 1): from the dorsum over the +z flank to the venter and back
    // over the other one. Even steps of u crowd where the shell will be seen.
    SectionPoint at(double u) const;
    // The perimeter in the measure that even steps of u divide evenly.
    double weighted_perimeter() const { return weighted_perimeter_; }

private:
    std::vector<SectionPoint> samples_;    // one more than a round, so that at() needs no wrap
    std::vector<double> weighted_length_;  // up to each sample
    double weighted_perimeter_ = 0.0;
};
