// The whole surface of the fossil: form, ornament, wear, the lip and the matrix in the mouth.
#pragma once

#include <glm/vec3.hpp>

#include "ammonite_form.hpp"
#include "ammonite_ribs.hpp"
#include "ammonite_sutures.hpp"

// The stretch of the last whorl, in angle on the coil, where the shell has flaked off: its borders
// are ragged and stray from this by up to a quarter of the half length.
inline constexpr double kFlakedMiddleRad = -4.72;
inline constexpr double kFlakedHalfLengthRad = 1.15;

// One ring of the surface, along a growth line.
struct Station {
    double growth_rad;     // 0 at the lip, negative before it
    double inset = 0.0;    // into the shell, in whorl heights: the inner wall of the mouth
    double closure = 0.0;  // 0 on the wall, 1 drawn together in one point: the two caps
};

class AmmoniteSurface {
public:
    AmmoniteSurface() : section_(coil_.section_shape_s), sutures_(coil_) {}

    glm::dvec3 point_mm(const Station& station, double u) const;
    const RaupCoil& coil() const { return coil_; }
    const WhorlSection& section() const { return section_; }

private:
    struct Place;

    double ornament(const Place& place) const;
    double mould_exposure(const Place& place) const;
    double worn_ribs(const Place& place, double exposure) const;

    RaupCoil coil_;
    WhorlSection section_;
    RibPattern ribs_;
    SutureLines sutures_;
};
