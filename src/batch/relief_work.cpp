#include "batch/relief_work.hpp"

#include <algorithm>

namespace rakelight {

ReliefWork::ReliefWork(const ReliefSettings& relief, const BlankGeometry& blank,
                       const ImageGrid& grid)
    : settings_(relief), needs_(needs_of(relief)), blank_(blank), grid_(grid) {}

void ReliefWork::keep(const PictureRows& rows, const Plane& from, Plane& to) const {
    if (to.values.empty()) to = Plane(grid_.width, grid_.height);
    std::copy(from.values.begin(), from.values.end(), &to.at(0, rows.first_row));
}

void ReliefWork::add(const PictureRows& rows) {
    keep(rows, rows.planes.coverage, planes_.coverage);
    keep(rows, rows.planes.height_mm, planes_.height_mm);
    if (needs_.occlusion) keep(rows, rows.planes.occlusion, planes_.occlusion);
    if (needs_.curvature) keep(rows, rows.planes.curvature, planes_.curvature);
    if (needs_.contour) keep(rows, rows.planes.contour, planes_.contour);
}

const Relief& ReliefWork::relief() {
    std::call_once(made_, [&] { relief_ = finish_relief(settings_, planes_, blank_, grid_); });
    return relief_;
}

}  // namespace rakelight
