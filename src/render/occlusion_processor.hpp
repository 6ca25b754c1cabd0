#pragma once
// The occlusion pass on the processor: what shaders/occlusion.frag does, for machines whose OpenGL
// driver is software. There every look-up of a shader costs an address of its own; here a tap of a
// whole row is one run of memory.

#include <memory>
#include <vector>

#include "render/walk.hpp"
#include "render/work_area.hpp"

namespace rakelight {

/// Holds the heights of a whole work area, four bytes a pixel; all else comes and goes with the
/// rows that are worked on.
class OcclusionOnProcessor {
public:
    /// @param walk      made for reach_mm * grid.px_per_mm
    /// @param reach_mm  > 0
    OcclusionOnProcessor(const OcclusionWalk& walk, double reach_mm, const Camera& camera,
                         const ImageGrid& grid, const WorkArea& area);
    ~OcclusionOnProcessor();
    OcclusionOnProcessor(const OcclusionOnProcessor&) = delete;
    OcclusionOnProcessor& operator=(const OcclusionOnProcessor&) = delete;

    /// How far it looks along an axis, px.
    int reach_px() const;

    /// Takes the heights of some rows.
    void add_rows(const SurfaceMaps& maps);

    /// The open share of every pixel of the maps, 0..1, in their order; 1 where nothing is. The
    /// same as the shader's within 2e-5 (rounding: both work in single precision, in another
    /// order), and the same bytes however the area is cut into rows. All rows that lie within
    /// reach_px() of the maps must have been added.
    std::vector<float> open(const SurfaceMaps& maps) const;

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace rakelight
