#include "batch/visible.hpp"

#include <algorithm>
#include <cmath>

#include "error.hpp"

namespace rakelight {
namespace {

const Plane* region(const std::vector<BlankMask>& masks, const std::string& name) {
    for (const auto& mask : masks) {
        if (mask.region == name) return &mask.coverage;
    }
    return nullptr;
}

void widen(PixelRect& box, int x, int y) {
    if (box.width == 0) {
        box = {x, y, 1, 1};
        return;
    }
    const int right = std::max(box.x + box.width, x + 1);
    const int bottom = std::max(box.y + box.height, y + 1);
    box.x = std::min(box.x, x);
    box.y = std::min(box.y, y);
    box.width = right - box.x;
    box.height = bottom - box.y;
}

void refuse_invisible(const VisibleSubject& visible) {
    if (visible.pixels == 0) {
        throw Error(ExitCode::unusable_picture,
                    "nothing is in the picture: no pixel shows the subject; expected at least one: "
                    "check [framing] shift_mm and zoom");
    }
    if (visible.field_share <= 0.0) {
        throw Error(ExitCode::unusable_picture,
                    "nothing is in the field: the subject lies wholly on the rim or beyond it; "
                    "expected some of it inside: check [framing] shift_mm and zoom");
    }
}

}  // namespace

void VisibleMeter::add(const RenderedPlanes& rows, const std::vector<BlankMask>& masks,
                       int first_row) {
    const Plane& field = *region(masks, "field");
    const Plane* hole = region(masks, "hole");
    for (int y = 0; y < field.height; ++y) {
        for (int x = 0; x < field.width; ++x) {
            const double coverage = rows.coverage.at(x, y);
            field_px_ += field.at(x, y);
            if (coverage <= 0.0) continue;
            const double height = rows.height_mm.at(x, y);
            low_mm_ = std::min(low_mm_, height);
            high_mm_ = std::max(high_mm_, height);
            ++seen_.pixels;
            covered_px_ += coverage;
            covered_field_px_ += coverage * field.at(x, y);
            if (hole != nullptr) covered_hole_px_ += coverage * hole->at(x, y);
            widen(seen_.box, x, first_row + y);
        }
    }
}

VisibleSubject VisibleMeter::subject() const {
    VisibleSubject visible = seen_;
    const double mm2 = 1.0 / (px_per_mm_ * px_per_mm_);
    visible.area_mm2 = covered_px_ * mm2;
    visible.over_hole_mm2 = covered_hole_px_ * mm2;
    visible.field_share = field_px_ > 0.0 ? covered_field_px_ / field_px_ : 0.0;
    refuse_invisible(visible);
    visible.near_mm = -high_mm_;
    visible.far_mm = -low_mm_;
    return visible;
}

void flatten_rounding(VisibleSubject& visible, double whole_mm) {
    // Heights are interpolated and shifted in single precision: some 2^-24 of the largest each
    // time.
    constexpr double roundings = 32.0 / 16777216.0;
    const double largest_mm =
        std::max({whole_mm, std::abs(visible.near_mm), std::abs(visible.far_mm)});
    if (visible.far_mm - visible.near_mm > roundings * largest_mm) return;
    visible.far_mm = visible.near_mm;
}

}  // namespace rakelight
