#pragma once
// Private to poses/: what a small picture of a pose is worth to a relief, and how alike two are.

#include <array>
#include <vector>

#include "batch/job.hpp"
#include "poses/pose_meter.hpp"
#include "poses/propose.hpp"

namespace rakelight {

inline constexpr int sketch_side = 20;

/// A picture made coarse, for comparing: 0 where nothing is, else 0.4 (far) to 1 (near).
using Sketch = std::array<float, sketch_side * sketch_side>;

/// 0: alike; 1: nothing in common. A picture and its mirror image are alike.
double difference(const Sketch& a, const Sketch& b);

/// What is measured on a view, before it is compared with the others.
struct ViewFacts {
    PoseFigures figures;
    double area_units2 = 0.0;    ///< of the silhouette, model units at the subject's middle
    double outline_units = 0.0;  ///< its length
    double depth_units = 0.0;    ///< from the nearest visible point to the farthest
    double normal_bits = 0.0;    ///< entropy of the directions that the surface faces
    Sketch sketch{};
};

/// Takes the rows of one view.
class ViewMeter final : public RowTaker {
public:
    /// @param prepared  outlives this
    /// @param surface   of the scene's model; need not outlive this
    ViewMeter(const PreparedScene& prepared, const FacingSurface& surface);
    void add(const PictureRows& rows) override;
    /// After the last row. Throws what PoseMeter::figures throws.
    ViewFacts facts() const;

private:
    double outline_px() const;
    Sketch sketch() const;

    const PreparedScene& prepared_;
    PoseMeter meter_;
    Plane coverage_;
    Plane height_mm_;
    std::vector<double> normals_;  ///< covered pixels by the direction that they face
};

/// What has a unit becomes a share of the largest among the views; see docs/poses.md.
std::vector<ViewScore> score_views(const std::vector<ViewFacts>& views,
                                   const std::vector<PoseSettings>& poses);

}  // namespace rakelight
