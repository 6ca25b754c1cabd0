// Septal sutures: the frilled lines where the chamber walls met the shell.
#pragma once

#include <glm/vec2.hpp>
#include <vector>

#include "ammonite_form.hpp"

class SutureLines {
public:
    explicit SutureLines(const RaupCoil& coil);

    // 1 on a suture's middle line, falling to 0 a little beside it.
    double groove(double angle_rad, const SectionPoint& section) const;

private:
    struct Suture {
        double angle_rad;
        std::vector<glm::dvec2> line;  // (arc from the venter, forward), in whorl heights
    };

    double distance_to(const Suture& suture, const glm::dvec2& place) const;

    RaupCoil coil_;
    std::vector<Suture> sutures_;
};
