// Where the rings of the mesh lie on the ammonite and how many points each gets.
#pragma once

#include <cstddef>
#include <vector>

#include "ammonite_surface.hpp"

struct PlannedRing {
    Station station;
    std::size_t size;
};

// The rings in order, from the first chamber to the lip and back into the mouth, which give a
// closed tube of about so many triangles.
std::vector<PlannedRing> plan_rings(const AmmoniteSurface& surface, std::size_t triangles);
