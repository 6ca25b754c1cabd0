#pragma once
// What a picture of two layers could know: the first solid along each line of sight with its
// thickness, the empty space behind it, and the next surface, below which all counts as solid. More
// than any pass of such a picture could make of it: walked sample by sample, without its own error.

#include "traced_occlusion.hpp"

namespace reference {

/// Solid from low_mm up to top_mm, and again from under_mm downwards; view space's z.
struct LayeredSample {
    static constexpr double nothing_mm = -1e30;
    double top_mm = nothing_mm;
    double low_mm = nothing_mm;    ///< where the line of sight leaves the first solid
    double under_mm = nothing_mm;  ///< where it enters the next; nothing_mm: it does not
    double slack_mm = 0.0;         ///< how far the first surface may rise within half a sample
};

/// The layers of a grid's samples. Surfaces are taken in turn as entering and leaving a solid.
class LayeredGrid {
public:
    /// @param layers  1: all below the first surface is solid; 2
    LayeredGrid(const SampleGrid& grid, const MeshTracer& mesh,
                const cli_test::ManifestCamera& camera, int layers);
    /// As MeshTracer::blocked. Parallel projection only: columns of samples stand side by side.
    bool blocked(glm::dvec3 from, glm::dvec3 direction, double reach_mm) const;

private:
    const LayeredSample* at(glm::dvec2 place) const;
    const SampleGrid& grid_;
    const cli_test::ManifestCamera& camera_;
    std::vector<LayeredSample> samples_;
};

}  // namespace reference
