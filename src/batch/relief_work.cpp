#include "batch/relief_work.hpp"

#include <algorithm>

namespace rakelight {

ReliefWork::ReliefWork(const ReliefSettings& relief, std::shared_ptr<const RecipeInputs> inputs,
                       const BlankGeometry& blank, const ImageGrid& grid)
    : settings_(relief),
      needs_(needs_of(relief)),
      inputs_(std::move(inputs)),
      blank_(blank),
      grid_(grid) {
    planes_.named.resize(settings_.sources.size());
}

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
    if (needs_.undercut) keep(rows, rows.planes.undercut.empty_mm, planes_.undercut_mm);
    if (needs_.steep) keep(rows, rows.planes.steep.share, planes_.steep);
    keep_parts(rows);
}

/// The share of the pixel in which any of a source's parts is the visible one.
void ReliefWork::keep_mask(const PictureRows& rows, std::size_t source) {
    Plane& all = planes_.named[source].value;
    if (all.values.empty()) all = Plane(grid_.width, grid_.height);
    for (const std::size_t mask : inputs_->masks[source]) {
        const std::vector<float>& part = rows.planes.masks[mask].values;
        float* to = &all.at(0, rows.first_row);
        for (std::size_t i = 0; i < part.size(); ++i) to[i] = std::min(1.0F, to[i] + part[i]);
    }
}

/// The height of the part that has most of the pixel, and how much it has.
void ReliefWork::keep_heights(const PictureRows& rows, std::size_t source) {
    SourcePlane& all = planes_.named[source];
    if (all.value.values.empty()) all.value = all.share = Plane(grid_.width, grid_.height);
    for (const std::size_t mask : inputs_->masks[source]) {
        const std::vector<float>& part = rows.planes.masks[mask].values;
        const std::vector<float>& height_mm = rows.planes.mask_heights_mm[mask].values;
        float* value = &all.value.at(0, rows.first_row);
        float* share = &all.share.at(0, rows.first_row);
        for (std::size_t i = 0; i < part.size(); ++i) {
            if (part[i] <= share[i]) continue;
            share[i] = part[i];
            value[i] = height_mm[i];
        }
    }
}

void ReliefWork::keep_parts(const PictureRows& rows) {
    for (std::size_t s = 0; s < settings_.sources.size(); ++s) {
        const auto* part = std::get_if<PartSource>(&settings_.sources[s].what);
        if (part == nullptr) continue;
        if (part->depth) {
            keep_heights(rows, s);
        } else {
            keep_mask(rows, s);
        }
    }
}

void ReliefWork::draw_sources() {
    for (std::size_t s = 0; s < settings_.sources.size(); ++s) {
        const NamedSource& source = settings_.sources[s];
        if (const auto* part = std::get_if<PartSource>(&source.what)) {
            if (part->depth) spread_heights(planes_.named[s], grid_.px_per_mm);
            continue;
        }
        planes_.named[s] = std::holds_alternative<ImageSource>(source.what)
                               ? placed_picture(*inputs_->pictures[s], source, grid_)
                               : drawn_source(source, blank_, grid_);
    }
}

const Relief& ReliefWork::relief() {
    std::call_once(made_, [&] {
        draw_sources();
        relief_ = finish_relief(settings_, planes_, blank_, grid_);
    });
    return relief_;
}

}  // namespace rakelight
