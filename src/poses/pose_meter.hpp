#pragma once
// A pose's figures, measured on its rows as they come; docs/poses.md has their formulas.

#include <vector>

#include "batch/row_taker.hpp"
#include "batch/visible.hpp"
#include "framing/frame.hpp"
#include "poses/facing_area.hpp"
#include "poses/pose_figures.hpp"
#include "render/renderer.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// Adds to a request what the meter reads besides what is always there: occlusion, at the scene's
/// reach or the default one. What the request has already stays as it is.
void ask_for_figures(RenderRequest& request, const Scene& scene, const BlankGeometry& blank);

/// Takes all rows of one picture of a pose. The figures are the same in every bit whatever the
/// number of threads, and however many rows come at a time. Keeps 8 bytes for each pixel that the
/// subject covers.
class PoseMeter final : public RowTaker {
public:
    /// Keeps none of the arguments.
    /// @param scene    its [pass.steep] says from which angle on a wall is steep, or the default
    /// @param surface  of the parts that the renderer draws
    /// @param framing  of this pose; not edge-on
    PoseMeter(const Scene& scene, const FacingSurface& surface, const Framing& framing);

    void add(const PictureRows& rows) override;

    /// After the last row. A plane that was not rendered leaves its figures unknown.
    /// Throws what VisibleMeter::subject throws.
    PoseFigures figures() const;
    VisibleSubject visible() const;  ///< the same; rounding is flattened

private:
    void add_pixel(const RenderedPlanes& planes, std::size_t at, glm::dvec2 place_mm);
    double slope_of(const RenderedPlanes& planes, std::size_t at, glm::dvec2 place_mm) const;
    double evenness(const VisibleSubject& visible) const;

    struct Seen {
        float height_mm;
        float coverage;
    };

    ImageGrid grid_;
    glm::dvec2 axis_mm_;  ///< where the view axis meets the blank
    double eye_mm_;       ///< 0: parallel
    double whole_mm_;     ///< depth of the whole subject
    double steep_slope_;  ///< mm of depth for a mm of the picture
    double facing_mm2_;   ///< unknown where pictures cut holes
    double rim_gap_mm_;
    bool has_occlusion_ = true;
    VisibleMeter meter_;
    std::vector<Seen> seen_;
    double covered_px_ = 0.0;
    double steep_px_ = 0.0;
    double closed_px_ = 0.0;
    glm::dvec2 moment_mm_px_{0.0};
};

}  // namespace rakelight
