#pragma once
// The visible surface alone, as the occlusion pass takes it (docs/passes.md): solid below every
// first hit along its line of sight.

#include "traced_picture.hpp"

namespace reference {

/// The samples of a grid joined to triangles; where the subject ends, walls go down along the lines
/// of sight to below everything. Sample for sample, at four a pixel and axis: its own error is a
/// quarter of a pixel at steps.
struct HeightSurface {
    std::vector<glm::dvec3> points;
    std::vector<Triangle> triangles;
};

/// @param deep_mm  how far the walls go down from where they start, > 0
HeightSurface height_surface(const SampleGrid& grid, double deep_mm);

}  // namespace reference
